"""Raw chunks packed for the session file."""

from daemon.session.chunks import PACKET_NS, packed, unpack
from shared.inputs import NS, Bytes


def chunks(count: int, every_ns: int, first_ns: int = 0) -> list[Bytes]:
    return [Bytes("chord", 0, b"%d" % n, first_ns + n * every_ns) for n in range(count)]


def test_a_packet_holds_a_second_whenever_that_is() -> None:
    """An hour into a session too."""
    hour = 3600 * NS
    packets = list(packed(chunks(30, NS // 10, first_ns=hour)))
    assert [packet.count for packet in packets] == [10, 10, 10]
    assert all(unpack(one)[-1].t_ns - one.first_ns < PACKET_NS for one in packets)


def test_what_came_with_the_first_tick_of_the_clock_comes_back() -> None:
    given = chunks(3, 0)
    [packet] = packed(given)
    assert packet.first_ns == 0
    assert unpack(packet) == given
