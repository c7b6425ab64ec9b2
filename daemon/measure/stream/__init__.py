"""One level's stream: tilts, what may not enter, stillness, averages, what it teaches; and facts."""
