"""The constants of the record and of what is learned are those that the pages state."""

from daemon.measure.stream.learning import ENOUGH_PLACEMENTS
from daemon.session.chunks import PACKET_NS
from daemon.session.learned import AGREE, ALONE, ENOUGH_NOISE, ONE_SESSION, SEATS_AGREE, SESSIONS
from daemon.session.opening import FRAME_HEADER, WAL_HEADER
from daemon.session.playback import SNAPSHOT_EVERY
from daemon.session.tables import APPLICATION_ID
from shared.inputs import NS
from tests.stated import page, word


def test_what_sessions_teach() -> None:
    for sentence in (
        f"the last {word(SESSIONS)} sessions a level, each at most as {ONE_SESSION} samples",
        f"neighbours that agree (within {AGREE:g}, seatings within {SEATS_AGREE:g})",
        f"One session alone is believed up to {word(ALONE)} times what was assumed",
        f"noise from {ENOUGH_NOISE} samples on and seating from {word(ENOUGH_PLACEMENTS)} degrees of freedom on",
    ):
        assert sentence in page("measuring"), sentence


def test_packets_and_snapshots() -> None:
    assert "packets of up to a second of one level, compressed" in page("session")
    assert PACKET_NS == NS
    assert f"every {SNAPSHOT_EVERY} inputs held in memory" in page("speed")


def test_the_file_says_whose_it_is_and_what_a_journal_looks_like() -> None:
    """SQLite file format, 4.1 (a header of 32 bytes) and 4.2 (one of 24 before each page)."""
    assert APPLICATION_ID.to_bytes(4, "big") == b"SBLD"
    assert (WAL_HEADER, FRAME_HEADER) == (32, 24)
