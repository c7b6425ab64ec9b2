"""The blades against the tolerance band, as SVG. Pure, the same bytes for the same sheet."""

from xml.sax.saxutils import escape

from daemon.sheet.content import Bar

WIDTH, LEFT, RIGHT, ROW, TOP = 520, 120, 60, 24, 20
INK = {"in": "#00561c", "OUT": "#a30000", "too close": "#7a3e00"}


def drawn(bars: list[Bar], tolerance_deg: float) -> str:
    """Return an SVG: a row a blade, its error with U95, the band of the tolerance behind."""
    reach = max([1.6 * tolerance_deg, *(abs(b.error_deg) + b.u95_deg for b in bars)]) * 1.05
    room = WIDTH - LEFT - RIGHT

    def x(error_deg: float) -> float:
        return LEFT + room * (error_deg + reach) / (2 * reach)

    height = TOP + ROW * len(bars) + 22
    low, high = x(-tolerance_deg), x(tolerance_deg)
    parts = [
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" '
            f'height="{height}" font-family="sans-serif" font-size="11">'
        ),
        "<title>Every blade against the tolerance</title>",
        (
            f'<rect x="{low:.1f}" y="{TOP}" width="{high - low:.1f}" height="{ROW * len(bars)}" '
            'fill="#dfeee3" stroke="#00561c" stroke-width="0.5"/>'
        ),
        (
            f'<line x1="{x(0):.1f}" x2="{x(0):.1f}" y1="{TOP}" y2="{TOP + ROW * len(bars)}" '
            'stroke="#888" stroke-dasharray="3 2"/>'
        ),
    ]
    for at, words in ((-tolerance_deg, "finer"), (0.0, "target"), (tolerance_deg, "coarser")):
        label = words if at == 0 else f"{at:+.2f} {words}"
        parts.append(f'<text x="{x(at):.1f}" y="{TOP - 6}" text-anchor="middle">{label}</text>')
    for number, bar in enumerate(bars):
        y = TOP + ROW * (number + 0.5)
        ink = INK.get(bar.mark, "#000000")
        parts += [
            f'<text x="4" y="{y + 4:.1f}">{escape(bar.name)}</text>',
            (
                f'<line x1="{x(bar.error_deg - bar.u95_deg):.1f}" x2="{x(bar.error_deg + bar.u95_deg):.1f}" '
                f'y1="{y:.1f}" y2="{y:.1f}" stroke="{ink}" stroke-width="3"/>'
            ),
            f'<circle cx="{x(bar.error_deg):.1f}" cy="{y:.1f}" r="4.5" fill="{ink}"/>',
            f'<text x="{WIDTH - RIGHT + 6}" y="{y + 4:.1f}" fill="{ink}">{bar.mark}</text>',
        ]
    parts.append(
        f'<text x="{LEFT}" y="{height - 6}" font-size="9">bar: expanded uncertainty (95 %)</text>'
    )
    return "\n".join([*parts, "</svg>"]) + "\n"
