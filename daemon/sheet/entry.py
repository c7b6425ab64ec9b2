"""The sheet in the plain lines of a logbook entry. Pure."""

from daemon.sheet.content import Sheet


def entry(sheet: Sheet) -> list[str]:
    """Return the lines, for a person to copy: the result first, then angles and who worked."""
    facts = dict(sheet.facts)
    about = [
        f"{name}: {facts[name]}" for name in ("Aircraft", "Propeller", "Manual") if name in facts
    ]
    concerned = f" ({sheet.concerned})" if sheet.concerned else ""
    found = [
        f"Blade angles, {facts.get('Begun', 'no date')}: {sheet.heading}{concerned}.",
        sheet.say,
        *about,
        *(f"Against last time: {words}." for words in sheet.otherwise),
        f"Station: {facts['Station']}. Target: {facts['Target']}.",
    ]
    for row in sheet.rows:
        cell = row.cells[-1] if row.cells else None
        mark = f" ({row.mark})" if row.mark else ""
        if cell is None or not cell.angle:
            found.append(f"Blade {row.blade}{mark}: not read")
        else:
            overruled = f"; OVERRULED: {row.accepted}" if row.accepted else ""
            found.append(
                f"Blade {row.blade}{mark}: {cell.angle}° {cell.u95}°, {cell.mark}{overruled}"
            )
    if sheet.spreads and sheet.spreads[-1]:
        found.append(f"Spread: {sheet.spreads[-1]}.")
    found += [f"Alarm: {said.strip()} -> {answer.strip()}" for said, answer, _ in sheet.alarms]
    found += [f"People: {sheet.people}."] if sheet.people else []
    return [
        *found,
        f"Session {sheet.session}, SHA-256 {sheet.digest}.",
        "This entry signs nothing off.",
    ]
