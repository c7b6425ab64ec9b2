"""What is asked of the propeller, in the manual's words; nothing that is the manual's has a default."""

from typing import Any

from daemon.dialog import drawings, understood
from daemon.dialog.asking import Question, Talk
from daemon.dialog.hub_and_parts import Recall, nothing_known, parts

Tables = dict[str, Any]
"""Tables of a job file by name, as they are written."""
FROM_THE_MANUAL = (
    "Angle, tolerance and spread come from the propeller's manual. None has a",
    "default, because no authority gives one number for all; where the manual is",
    "silent, ask the propeller's maker.",
)


async def propeller(talk: Talk, recall: Recall = nothing_known) -> Tables:
    """Ask for everything a job says of the work, and return its tables without the level's.

    recall: says what is known of a hub.
    """
    tables: Tables = await _record(talk)
    blades = await talk.ask(
        Question(
            "blades",
            "blades",
            "How many blades has the propeller, 2 to 6?",
            lambda text: understood.whole(text, 2, 6),
        )
    )
    told = await _propeller(talk, blades)
    tables["propeller"] = told | await parts(talk, told, recall)
    tables["target"] = await _target(talk)
    tables["setup"] = {"reference": await _reference(talk)}
    tables["plan"] = await _plan(talk, blades)
    return tables


async def _record(talk: Talk) -> Tables:
    name = await talk.ask(
        Question(
            "name",
            "name of the job",
            "A name for this job, as it shall stand in the record?",
            understood.words,
            ("First the job itself, then its propeller as the manual has it.",),
        )
    )
    aircraft = await talk.ask(
        Question("aircraft", "aircraft", "Which aircraft?", understood.said, default="")
    )
    hours = await _hours(talk) if aircraft else ""
    manual = await talk.ask(
        Question(
            "manual",
            "manual",
            "The propeller's manual: title, revision, page?",
            understood.said,
            ("What you type from here on is from it, and the record says which it was.",),
            default="",
        )
    )
    return {"name": name, "aircraft": aircraft, "hours": hours, "manual": manual}


async def _hours(talk: Talk) -> str:
    return await talk.ask(
        Question(
            "hours",
            "hours",
            "Its hours, as its log says?",
            understood.said,
            ("A hub's history tells the hours between its settings by them. Enter: not said.",),
            default="",
        )
    )


async def _propeller(talk: Talk, blades: int) -> Tables:
    layout = await talk.ask(
        Question(
            "layout",
            "layout",
            "Is it a tractor or a pusher?",
            lambda text: understood.choice(text, {"tractor": "tractor", "pusher": "pusher"}),
            drawings.LAYOUT,
        )
    )
    rotation = await talk.ask(
        Question(
            "rotation",
            "rotation",
            "Clockwise or anticlockwise, seen from behind, looking forward?",
            lambda text: understood.choice(
                text, {"clockwise": "clockwise", "anticlockwise": "anticlockwise"}
            ),
            drawings.ROTATION,
        )
    )
    station = await talk.ask(
        Question(
            "station",
            "station",
            "At which station is the angle measured?",
            understood.words,
            drawings.STATION,
        )
    )
    radius = await talk.ask(
        Question(
            "radius",
            "radius of the station",
            "How far is that from the hub's centre, with its unit?",
            lambda text: understood.length(text) if text else None,
            ("With it, a level that lies a millimetre off the station is counted.",),
            default="",
        )
    )
    labels = await talk.ask(
        Question(
            "labels",
            "names of the blades",
            f"Your names for the {blades} blades, blade 1 first, between commas?",
            lambda text: understood.labels(text, blades),
            ("A mark, a colour: what you see on them. Enter: they are numbered.",),
            default="",
        )
    )
    return {
        "blades": blades,
        "layout": layout,
        "rotation": rotation,
        "station": station,
        "radius_m": radius,
        "labels": labels,
    }


async def _target(talk: Talk) -> Tables:
    angle = await talk.ask(
        Question(
            "angle",
            "blade angle",
            "Which blade angle does the manual want there, degrees?",
            lambda text: understood.angle(text, -30.0, 80.0),
            (*FROM_THE_MANUAL, "", *drawings.ANGLE),
        )
    )
    tolerance = await talk.ask(
        Question(
            "tolerance",
            "tolerance",
            "How far off may one blade be, plus or minus, degrees?",
            lambda text: understood.angle(text, 0.0, 10.0),
        )
    )
    spread = await talk.ask(
        Question(
            "spread",
            "spread",
            "How far may any two blades differ, degrees?",
            lambda text: understood.angle(text, 0.0, 20.0),
            ("The manual may call it the difference between blades, or matching.",),
        )
    )
    return {"angle_deg": angle, "tolerance_deg": tolerance, "spread_deg": spread}


async def _reference(talk: Talk) -> str:
    return await talk.ask(
        Question(
            "reference",
            "reference",
            "Is that face flat, leaning, or is there none?",
            lambda text: understood.choice(
                text, {"flat": "hub-face", "leaning": "half-turn", "none": "both-sides"}
            ),
            (
                "The aircraft is not level, so the plane of rotation is read too: on the hub's",
                "face, the flange or a spinner back plate. Is there one to lay the level on?",
                "     flat      it is true to the plane of rotation: read once each time",
                "     leaning   or nobody knows: read, and again half a turn further on",
                "     none      blade 1 is read on both sides of the aircraft instead",
            ),
        )
    )


async def _plan(talk: Talk, blades: int) -> Tables:
    clamps = await talk.ask(
        Question(
            "clamps",
            "clamps",
            "All, each, or which sets?",
            lambda text: understood.clamps(text, blades),
            drawings.CLAMPS,
        )
    )
    plan: Tables = {"clamps": clamps}
    if len(clamps) > 1:
        plan["order"] = await _order(talk)
    plan["bolts"] = await _bolts(talk)
    return plan


async def _order(talk: Talk) -> str:
    orders = {"together": "together", "clamp by clamp": "clamp by clamp"}
    return await talk.ask(
        Question(
            "order",
            "order of work",
            "Together, or clamp by clamp?",
            lambda text: understood.choice(text, orders),
            (
                "     together         set all blades, then tighten all of them",
                "     clamp by clamp   set, snug and read the blades of one clamp, then the next",
            ),
        )
    )


async def _bolts(talk: Talk) -> list[Tables]:
    groups: list[Tables] = []
    while await talk.ask(
        Question(
            f"bolts {len(groups) + 1}",
            "another group of bolts" if groups else "torque of bolts",
            "Is there another group of bolts with a torque? yes or no"
            if groups
            else "Does the manual give a torque for bolts that are tightened? yes or no",
            understood.yes,
            ()
            if groups
            else (
                "With it the program leads through the passes in star order, and asks for each.",
            ),
        )
    ):
        groups.append(await _group(talk, len(groups) + 1, [one["name"] for one in groups]))
    return groups


async def _group(talk: Talk, number: int, taken: list[str]) -> Tables:
    def name_of(text: str) -> str:
        found = understood.name_of_bolts(text)
        if found in taken:
            raise ValueError(f"There is a group called {found} already.")
        return found

    name = await talk.ask(
        Question(
            f"bolts {number} name",
            "bolts",
            "What are these bolts called?",
            name_of,
            default="hub" if number == 1 else None,
        )
    )
    count = await talk.ask(
        Question(
            f"bolts {number} count",
            f"number of {name} bolts",
            f"How many {name} bolts are there?",
            lambda text: understood.whole(text, 1, 32),
        )
    )
    torque, unit = await talk.ask(
        Question(
            f"bolts {number} torque",
            f"torque of {name} bolts",
            "Their torque, with its unit?",
            understood.torque,
            ("As the manual gives it, without what a self-locking nut takes to run down.",),
        )
    )
    passes = await talk.ask(
        Question(
            f"bolts {number} passes",
            f"passes of {name} bolts",
            "In which passes, the last the whole torque?",
            lambda text: understood.passes(text, torque),
            ("Such as: 50 % 100 %; or the torque of each pass; 100 % where it is one pass.",),
        )
    )
    return {"name": name, "count": count, "torque": torque, "unit": unit, "passes": passes}
