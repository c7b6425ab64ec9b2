"""One level by itself: what there is, what it says, whether it can be trusted."""
