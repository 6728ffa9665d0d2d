"""A printed curve read off its picture: drawn here, and read back."""

from __future__ import annotations

import contextlib
import io
import struct
import zlib
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

import drainpump as dp
from drainpump import plots

mpl.use("Agg")

#: largest flow and head of what is drawn (invented)
Q0, H0 = 60.0, 30.0


class Drawn:
    """A drawn curve: its file, its axes' known points, and what is true of it."""

    def __init__(
        self, path: Path, wide: int, *, n: float = 1.6, style: str = "-", lw: float = 2.0,
        colour: str = "black", grid: str = "0.85", minor: bool = False, grey: bool = False,
        second: str = "", lines: int = 1, end: float = 1.0, log: bool = False,
    ) -> None:  # fmt: skip
        figure = Figure(figsize=(wide / 80, 0.75 * wide / 80), dpi=80)
        canvas = FigureCanvasAgg(figure)
        ax = figure.add_axes((0.12, 0.14, 0.82, 0.8))
        self.n, self.last = n, end * Q0
        q = np.linspace(0, self.last, 400)
        ax.plot(q, H0 * (1 - (q / Q0) ** n), style, lw=lw, color=colour)
        if second:
            ax.plot(q, 4 + 0.008 * q**2, lw=lw, color=second)
        for k in range(1, lines):
            ax.plot(q, (H0 - 0.4 * k) * (1 - (q / (Q0 - 4 * k)) ** 2.2), lw=lw, color=colour)
        self.more(ax)
        ax.set_xlim(0.5 if log else 0, 1.1 * Q0)
        ax.set_ylim(0, 1.1 * H0)
        if log:
            ax.set_xscale("log")
        ax.grid(True, color=grid, lw=0.8)
        if minor:
            ax.minorticks_on()
            ax.grid(True, which="minor", color="0.92", lw=0.5)
        ax.set_xlabel("flow")
        ax.set_ylabel("head")
        canvas.draw()
        tall = figure.bbox.height
        image = np.asarray(canvas.buffer_rgba())[..., :3]
        self.path = path
        save(path, image.mean(axis=2).astype(np.uint8) if grey else image)

        def pixel(flow: float, head: float) -> tuple[float, float]:
            x, y = ax.transData.transform((flow, head))
            return float(x - 0.5), float(tall - y - 0.5)

        self.pixel = pixel
        places = (1, 8, Q0) if log else (0, Q0)
        self.flow = [(pixel(v, 0)[0], v) for v in places]
        self.head = [(pixel(1, 0)[1], 0.0), (pixel(1, H0)[1], H0)]
        self.at = pixel(0.4 * Q0, H0 * (1 - 0.4**n))

    def more(self, ax: Any) -> None:
        """Draw what else stands in the picture."""

    def read(self, **more: Any) -> dp.PumpCurve:
        given = {"flow_gpm": self.flow, "head_ft": self.head, "at": self.at} | more
        return dp.read_curve_picture(self.path, **given)

    def off(self, pump: dp.PumpCurve) -> tuple[float, float]:
        """Greatest error of flow and of head at ten heads, as a share of full scale."""
        low = H0 * (1 - (self.last / Q0) ** self.n)
        heads = low + np.linspace(0.05, 0.95, 10) * (H0 - low)
        true = Q0 * (1 - heads / H0) ** (1 / self.n)
        flow = np.linspace(pump.flow_gpm[0], pump.flow_gpm[-1], 4000)
        made = pump.head(flow_gpm=flow).head_ft
        q = np.interp(-heads, -made, flow)
        h = np.interp(true, flow, made)
        return float(np.abs(q - true).max() / Q0), float(np.abs(h - heads).max() / H0)


def save(path: Path, image: Any) -> None:
    """Write a picture; a JPEG at quality 40, with what matplotlib brings."""
    from PIL import Image

    Image.fromarray(image).save(path, **({"quality": 40} if path.suffix == ".jpg" else {}))


STYLES: dict[str, dict[str, Any]] = {
    "black": {"ext": "png", "n": 1.3},
    "dashed red": {"ext": "png", "style": "--", "colour": "tab:red"},
    "blue jpeg": {"ext": "jpg", "colour": "tab:blue", "n": 2.1},
    "grey jpeg, fine grid": {"ext": "jpg", "grey": True, "minor": True, "n": 0.8},
    "green, crossed by a red one, dark grid": {
        "ext": "png", "grid": "0.5", "second": "tab:red", "colour": "tab:green", "n": 2.0,
    },
    "dash-dotted on a black grid, cut": {
        "ext": "png", "style": "-.", "lw": 1.6, "grid": "black", "n": 1.8, "end": 0.8,
    },
}  # fmt: skip


@pytest.mark.parametrize("wide", [300, 400, 600, 900, 1300, 2000])
@pytest.mark.parametrize("style", list(STYLES)[:5])
def test_thirty_pictures_are_read_within_a_percent_and_a_half(tmp_path, wide, style) -> None:
    given = dict(STYLES[style])
    drawn = Drawn(tmp_path / f"curve.{given.pop('ext')}", wide, **given)
    pump = drawn.read(name="P")
    q, h = drawn.off(pump)
    assert q < 0.015
    assert h < 0.015
    assert pump.run_out_gpm == pytest.approx(drawn.last, rel=0.015)
    assert pump.origin == "a picture"
    # the stated doubt is of the size of the error
    assert max(q, h) < 3 * pump.given["reading_pct"] / 100 < 0.02


def test_a_line_that_ends_within_the_picture_ends_there(tmp_path) -> None:
    given = dict(STYLES["dash-dotted on a black grid, cut"])
    drawn = Drawn(tmp_path / f"curve.{given.pop('ext')}", 800, **given)
    pump = drawn.read()
    assert max(drawn.off(pump)) < 0.015
    assert pump.run_out_gpm == pytest.approx(48, abs=0.7)


def test_what_cannot_be_read_for_certain_gives_nothing(tmp_path) -> None:
    dotted = Drawn(tmp_path / "dotted.png", 600, style=":")
    for drawn, said in (
        (dotted, "dotted.png: the line is broken too often to be followed; give a clearer "
         "picture, or type points off it."),
        (Drawn(tmp_path / "bundle.png", 400, lines=4),
         "bundle.png: the line runs together with another; give a clearer picture, or type "
         "points off it."),
    ):  # fmt: skip
        with pytest.raises(dp.InputError) as err:
            drawn.read()
        assert str(err.value) == said
    plain = Drawn(tmp_path / "plain.png", 600)
    with pytest.raises(dp.InputError) as err:
        plain.read(at=(480, 130))
    assert str(err.value) == ("plain.png: there is no line near the point; give one on the line.")


def test_a_logarithmic_axis_is_refused_by_name(tmp_path) -> None:
    drawn = Drawn(tmp_path / "log.png", 500, log=True)
    with pytest.raises(dp.InputError, match="is a logarithmic axis, which is not read; type "):
        drawn.read()
    with pytest.raises(dp.InputError, match="must lie on a linear axis; check pixels and values"):
        drawn.read(flow_gpm=[(50, 0), (100, 10), (200, 60)])


def test_printed_units_and_the_doubt_of_reading(tmp_path) -> None:
    drawn = Drawn(tmp_path / "curve.png", 300)
    plain = drawn.read()
    lpm = [(px, v * 3.785411784) for px, v in drawn.flow]
    kpa = [(px, v * 0.3048 * 9.80665) for px, v in drawn.head]
    metric = drawn.read(flow_gpm=None, flow_lpm=lpm, head_ft=None, head_kpa=kpa)
    assert metric.run_out_gpm == pytest.approx(plain.run_out_gpm, rel=1e-6)
    assert metric.shutoff_ft == pytest.approx(plain.shutoff_ft, rel=1e-6)
    line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, k=6.3)
    sure = dp.band(plain.replace(reading_pct=0), line, dp.Doubt()).flow_gpm
    read = dp.band(plain, line, dp.Doubt()).flow_gpm
    assert sure["p10"] == sure["p90"]
    assert 0.05 < read["p90"] - read["p10"] < 1
    both, tolerance = (
        dp.band(p, line, dp.Doubt(grade="up to 10 kW")).flow_gpm
        for p in (plain.replace(reading_pct=8), plain)
    )
    assert both["p90"] - both["p10"] > 1.3 * (tolerance["p90"] - tolerance["p10"])
    again = dp.PumpCurve.from_dict(plain.to_dict())
    assert again == plain
    assert again.origin == "a picture"


def test_what_was_read_is_drawn_over_the_picture(tmp_path) -> None:
    drawn = Drawn(tmp_path / "curve.png", 500)
    pump = drawn.read(name="P")
    ax = plots.traced(drawn.path, pump, flow_gpm=drawn.flow, head_ft=drawn.head)
    (line,) = ax.lines
    q = (np.asarray(line.get_xdata()) - drawn.flow[0][0]) / (drawn.flow[1][0] - drawn.flow[0][0])
    np.testing.assert_allclose(q * Q0, pump.flow_gpm, atol=1e-9)
    assert ax.images[0].get_array().shape[:2] == (375, 500)


def png(wide: int, tall: int) -> bytes:
    """A PNG whose header says so, with nothing in it."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    head = struct.pack(">IIBBBBB", wide, tall, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"", "junk.png: is empty; save the curve as one."),
        (b"pump,flow_gpm\nA,3\n", "junk.png: is no PNG or JPEG picture; save the curve as one."),
        (b"\x89PNG\r\n", "junk.png: is no PNG or JPEG picture; save the curve as one."),
        (b"\xff\xd8\xff\xe0\x00", "junk.png: is no PNG or JPEG picture; save the curve as one."),
        (b"\xff\xd8\xff\xe0\x00\x00" * 9,
         "junk.png: is no PNG or JPEG picture; save the curve as one."),
        (png(100_000, 100_000),
         "junk.png: 100000 by 100000 px: must be 100 to 10000 px a side and at most 25 million in "
         "all; cut or scale it."),
        (png(9_000, 9_000),
         "junk.png: 9000 by 9000 px: must be 100 to 10000 px a side and at most 25 million in "
         "all; cut or scale it."),
        (png(20, 20),
         "junk.png: 20 by 20 px: must be 100 to 10000 px a side and at most 25 million in all; "
         "cut or scale it."),
        (png(200, 200), "junk.png: cannot be decoded; save it again."),
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 20_000_001, "junk.png: must be at most 20 MB; cut or "
         "shrink it."),
    ],
    ids=lambda value: "junk" if isinstance(value, bytes) else None,
)  # fmt: skip
@pytest.mark.filterwarnings("error")
def test_junk_is_refused_by_name_before_it_is_decoded(tmp_path, raw, said) -> None:
    (tmp_path / "junk.png").write_bytes(raw)
    axes: dict[str, Any] = {"flow_gpm": ((20, 0), (90, 60)), "head_ft": ((90, 0), (10, 30))}
    with pytest.raises(dp.InputError) as err:
        dp.read_curve_picture(tmp_path / "junk.png", **axes, at=(50, 50))
    assert str(err.value) == said


@pytest.mark.parametrize("seed", range(12))
def test_a_damaged_picture_is_read_or_refused_never_worse(tmp_path, seed) -> None:
    drawn = Drawn(tmp_path / f"curve.{'jpg' if seed % 2 else 'png'}", 300)
    raw = bytearray(drawn.path.read_bytes())
    rng = np.random.default_rng(seed)
    for i in rng.integers(0, len(raw), 6):
        raw[i] = int(rng.integers(0, 256))
    drawn.path.write_bytes(bytes(raw[: int(rng.integers(len(raw) // 2, len(raw)))]))
    with contextlib.suppress(dp.InputError):
        assert drawn.read().run_out_gpm > 0


def test_noise_is_no_curve(tmp_path) -> None:
    rng = np.random.default_rng(1)
    save(tmp_path / "noise.png", rng.integers(0, 256, (200, 300, 3)).astype(np.uint8))
    with pytest.raises(dp.InputError):
        dp.read_curve_picture(
            tmp_path / "noise.png", flow_gpm=((20, 0), (280, 60)), head_ft=((190, 0), (10, 30)),
            at=(150, 100),
        )  # fmt: skip
    assert io.BytesIO(png(10, 10)).read(4) == b"\x89PNG"


class _Labelled(Drawn):
    """A curve with a label set on it, on a patch of the ground's colour, as leaflets print them."""

    def more(self, ax: Any) -> None:
        x = 0.7 * self.last
        y, size = H0 * (1 - (x / Q0) ** self.n), 0.011 * ax.figure.bbox.width
        patch = {"fc": "w", "ec": "none", "pad": 1}
        ax.text(x, y, "B4", fontsize=size, ha="center", va="center", bbox=patch, zorder=9)


def test_with_a_label_on_the_line_all_of_it_is_read_or_nothing(tmp_path) -> None:
    """Which of them is followed past its label hangs on single pixels; none is cut off there."""
    read = 0
    for wide in (1000, 1200, 1400, 1500):
        for n in (1.0, 1.7):
            drawn = _Labelled(tmp_path / "labelled.png", wide, n=n, lw=1.5, colour="navy")
            try:
                pump = drawn.read()
            except dp.InputError:
                continue
            read += 1
            assert max(drawn.off(pump)) < 0.015
            assert pump.run_out_gpm == pytest.approx(Q0, rel=0.015)
    assert read >= 2


class _Crossed(Drawn):
    """A curve crossed by a solid one of its own colour, of other largest flow, head and bend."""

    def __init__(self, path: Path, wide: int, by: tuple[float, float, float], **how: Any) -> None:
        self.by = by
        super().__init__(path, wide, n=1.5, **how)

    def other(self, q: Any) -> Any:
        flow, head, bend = self.by
        return head * H0 * (1 - (q / (flow * Q0)) ** bend)

    def more(self, ax: Any) -> None:
        q = np.linspace(0, self.by[0] * Q0, 300)
        ax.plot(q, self.other(q), lw=2, color="black")


@pytest.mark.parametrize(
    ("wide", "by", "style", "lw"),
    [
        (300, (1.3, 0.8, 1.2), "--", 3),
        (300, (0.7, 1.2, 2.0), "--", 2),
        (400, (0.8, 1.2, 1.0), "-", 2),
        (400, (1.2, 0.9, 2.0), "--", 3),
    ],
)
def test_another_line_of_the_colour_is_not_taken_for_this_one(
    tmp_path, wide, by, style, lw
) -> None:
    drawn = _Crossed(tmp_path / "crossed.png", wide, by, style=style, lw=lw)
    try:
        off = max(drawn.off(drawn.read()))
    except dp.InputError:  # to give nothing is an answer, too
        off = 0.0
    assert off < 0.015


def test_a_point_where_lines_meet_names_no_line(tmp_path) -> None:
    drawn = _Crossed(tmp_path / "crossed.png", 640, (1.3, 0.8, 1.2))
    q = np.linspace(10, 50, 4001)
    x = q[np.abs(H0 * (1 - (q / Q0) ** 1.5) - drawn.other(q)).argmin()]
    with pytest.raises(dp.InputError) as err:
        drawn.read(at=drawn.pixel(x, drawn.other(x)))
    assert str(err.value) == (
        "crossed.png: the point lies where lines meet; give one where the line stands alone."
    )
