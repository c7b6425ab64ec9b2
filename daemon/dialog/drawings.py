"""What station, rotation and layout mean, drawn in characters: at most 78 wide, plain ASCII."""

LAYOUT = (
    "Seen from above, flying up the page:",
    "",
    "     tractor: it pulls              pusher: it pushes",
    "",
    "      ======o======  propeller             / \\",
    "           | |                            |   |   nose",
    "           |E|  engine                    |   |",
    "     ------| |------  wing          ------|   |------  wing",
    "           | |                            |E|     engine",
    "           | |                       ======o======  propeller",
)
ROTATION = (
    "Seen from BEHIND the aircraft, looking forward, wherever the propeller is:",
    "",
    "     clockwise                      anticlockwise",
    "     a blade on your left rises     a blade on your right rises",
    "",
    "            .->-.                          .-<-.",
    "          /       \\                      /       \\",
    "       ^ |    o    | v                v |    o    | ^",
    "          \\       /                      \\       /",
    "            '-<-'                          '->-'",
    "",
    "The manual may say right-hand or left-hand: look how it means that first.",
)
STATION = (
    "One blade, seen flat. The station is where the manual wants it measured:",
    "",
    "     hub                   station                  tip",
    "      _    ___________________:______________________",
    "     (o)__/                   :                      \\",
    "     (_)  \\___________________:______________________/",
    "      |                       :                      |",
    "      |<------- radius ------>|<--- in from the tip ->|",
    "",
    "In the manual's own words: 75 % radius; 150 mm in from the tip; at the mark.",
)
ANGLE = (
    "The blade seen from its tip, at the station. The angle is that of the chord",
    "(or of the flat face, where the manual says so) to the plane of rotation:",
    "",
    "                  . leading edge",
    "                . '",
    "              . '  chord",
    "            . '  ) angle",
    "     -----:'-----------------  plane of rotation, edge on",
)
CLAMPS = (
    "Which blades can one tightening turn together? Bolts through both halves of",
    "one hub reach all blades; a clamp of a blade's own reaches that blade only.",
    "",
    "     all            each               sets: 1 2, 3 4",
    "      |              |                   1   2",
    "    [ # ]          [#] [#]              [#####]",
    "     / \\            |   |               [#####]",
    "                                         3   4",
)
