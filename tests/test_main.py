"""The command line: the demo, a job of one's own, and calm refusals."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import drainpump as dp
from drainpump.__main__ import main
from tests.notebook import ROOT
from tests.problems import garden_by_need

CURVES = str(ROOT / "curves_demo")


@pytest.fixture
def job(tmp_path: Path) -> Path:
    site = garden_by_need()
    made = dp.Job(
        pumps=dp.read_curves(CURVES)[:3],
        lines=list(site.lines),
        pit=site.pit,
        limits=site.limits,
        need_gpm=site.need_gpm,
        inflow_gpm=site.inflow_gpm,
        name="market garden",
        story=site.story,
    )
    path = tmp_path / "job.json"
    path.write_text(made.to_json(), encoding="utf-8")
    return path


def test_demo_ranks_chooses_cautions_and_draws(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plot = tmp_path / "duty.png"
    assert main([CURVES, "--plot", str(plot)]) == 0
    said = capsys.readouterr()
    assert len(said.out.splitlines()) <= 30
    for part in (
        "market garden (invented)\n",
        "Install    ",
        "(invented curve)",
        "Next: ",
        "probably between",
        "Dry up to the 15-year storm",
        "starts an hour",
        "Measure    ",
        "Local codes and licensed practice come first.",
        "Electricity near water kills",
    ):
        assert " ".join(part.split()) in " ".join(said.out.split()), part
    assert said.err == f"drainpump: head against flow drawn in {plot}\n"
    assert plot.read_bytes().startswith(b"\x89PNG")


def test_job_gives_the_choice_of_select(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([CURVES, "--job", str(job), "--json"]) == 0
    said = capsys.readouterr()
    assert said.err == f"drainpump: the pumps of {CURVES} replace the 3 of the job\n"
    found = json.loads(said.out)
    site = garden_by_need()
    best = dp.select(
        dp.read_curves(CURVES), site.lines, pit=site.pit, need_gpm=35, limits=site.limits
    ).best
    assert best is not None
    assert found["results"]["chosen"] == {
        "pump": best.pump.name, "line": best.line.name, "pit": 1,
    }  # fmt: skip
    first = found["results"]["candidates"][0]
    assert first["flow_gpm"] == pytest.approx(best.flow_gpm, rel=1e-9)
    assert main(["--job", str(job)]) == 0
    said = capsys.readouterr()
    assert said.out.startswith("market garden\n=============\n")
    assert ("\\" in said.out, said.err) == (False, "")
    # the job holds the pump that is chosen
    assert main(["--job", str(job), "--json"]) == 0
    again = json.loads(capsys.readouterr().out)
    assert again["results"]["chosen"] == found["results"]["chosen"]


@pytest.mark.parametrize("ending", ["png", "pdf", "svg"])
def test_a_picture_is_what_its_ending_says(
    job: Path, tmp_path: Path, ending: str, capsys: pytest.CaptureFixture[str]
) -> None:
    plot = tmp_path / f"duty.{ending}"
    assert main(["--job", str(job), "--plot", str(plot), "--units", "metric"]) == 0
    assert plot.read_bytes()[:4] in (b"\x89PNG", b"%PDF", b"<?xm")
    assert plot.read_bytes()[1:4].lower() in (ending.encode(), b"?xm")
    assert f"head against flow drawn in {plot}\n" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([], "give CURVES, or --job with a job that holds its pumps"),
        ([CURVES, "--json"], "--json needs --job"),
        ([CURVES, "--plot", "x.gif"], "--plot 'x.gif': must end in .png, .pdf, .svg"),
        ([CURVES, "--report", "x.doc"], "--report 'x.doc': must end in .html, .md, .txt"),
    ],
)
def test_what_cannot_be_asked(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as end:
        main(arguments)
    assert end.value.code == 2
    assert capsys.readouterr().err.endswith(f"error: {said}\n")


def test_a_reader_that_leaves_early_is_no_failure(job: Path) -> None:
    command = f"{sys.executable} -m drainpump --job {job} | head -1"
    done = subprocess.run(command, shell=True, capture_output=True, text=True, check=True)
    assert done.stdout == "market garden\n"
    assert done.stderr == ""


def test_reread_job_gives_the_same_numbers(job: Path) -> None:
    text = job.read_text(encoding="utf-8")
    once = dp.Job.from_json(text)
    assert once.to_json() == text
    a = once.run().selection
    b = dp.Job.from_json(once.to_json()).run().selection
    assert [c.flow_gpm for c in a.candidates] == pytest.approx(
        [c.flow_gpm for c in b.candidates], rel=1e-9, nan_ok=True
    )


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda d: d.update(colour="red"), r"\$\.colour: unknown key; known: [a-z0-9_, ]+\."),
        (lambda d: d.update(schema_version=99), r"\$\.schema_version=99: must be 2\."),
        (
            lambda d: d["lines"][0]["runs"][1].pop("length_ft"),
            r"\$\.lines\[0\]\.runs\[1\]: lacks length; give exactly one of length_ft or length_m\.",
        ),
        (
            lambda d: d["lines"][0]["runs"][1].update(length_m=3),
            r"\$\.lines\[0\]\.runs\[1\]: holds length_ft and length_m; give exactly one of them\.",
        ),
    ],
)
def test_bad_jobs_are_refused_with_their_place(job: Path, change: object, said: str) -> None:
    document = json.loads(job.read_text(encoding="utf-8"))
    change(document)  # type: ignore[operator]
    with pytest.raises(dp.InputError) as err:
        dp.Job.from_dict(document)
    assert re.fullmatch(said, str(err.value))


def test_deep_and_broken_json_is_refused_calmly() -> None:
    no_json = r"\$: no JSON at line 1, column \d: .*; mend it there\."
    for text, said in (
        ("[" * 10_000, r"\$: nested deeper than 40 levels at character 40; a job needs fewer .*"),
        ("{", no_json),
        ('{"a": NaN}', r"\$\.a: unknown key; known: [a-z0-9_, ]+\."),
        ('{"a": 1, "a": 2}', r"\$\.a: stands there twice; keep one of them\."),
        ("", no_json),
        ("\x00", no_json),
        ("1e999", r"\$=inf: must be an object\."),
    ):
        with pytest.raises(dp.InputError) as err:
            dp.Job.from_json(text)
        assert re.fullmatch(said, str(err.value)), text


def test_report_escapes_what_the_user_typed(job: Path) -> None:
    document = json.loads(job.read_text(encoding="utf-8"))
    document["name"] = "<script>alert(1)</script> | *bold*"
    found = dp.report(dp.Job.from_dict(document))
    assert "<script>" not in found.to_html()
    assert "<script>" not in found.to_markdown()
    assert "*bold*" not in found.to_markdown().splitlines()[0].replace("\\*", "")
    assert len(found.input_hash) == 64
    json.dumps(found.to_dict(), allow_nan=False)


def test_failures_end_with_a_code_and_no_traceback(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "bad.csv").write_text("pump,flow_gpm,head_ft\nA,0,ten\n", encoding="utf-8")
    (tmp_path / "bad.json").write_text("{", encoding="utf-8")
    for arguments, words in (
        ([str(tmp_path / "nowhere")], "no such file or folder"),
        ([CURVES, "--job", str(tmp_path / "bad.json")], "drainpump: $"),
    ):
        assert main(arguments) == 2, arguments
        assert words in capsys.readouterr().err
    done = subprocess.run(
        [sys.executable, "-m", "drainpump", str(tmp_path / "bad.csv")], capture_output=True,
        text=True, cwd=tmp_path, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "bad.csv, row 2, column 'head_ft'" in done.stderr
    assert "Traceback" not in done.stderr


def test_any_console_carries_the_answer(job: Path) -> None:
    for more in (["--json"], []):
        done = subprocess.run(
            [sys.executable, "-m", "drainpump", "--job", str(job), *more],
            capture_output=True, check=False, cwd=ROOT,
            env={**os.environ, "PYTHONIOENCODING": "ascii"},
        )  # fmt: skip
        assert (done.returncode, done.stderr) == (0, b"")
        assert b"invented" in done.stdout.lower() or b"market" in done.stdout


def test_the_answer_stands_whether_or_not_a_picture_can_be_written(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plot = str(tmp_path / "no" / "x.png")
    for asked in (["--job", str(job), "--json"], [CURVES]):
        assert main([*asked, "--plot", plot]) == 2
        said = capsys.readouterr()
        assert said.err == f"drainpump: [Errno 2] No such file or directory: {plot!r}\n"
        assert "market garden" in said.out


def test_exit_codes_tell_a_choice_from_none(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    document = json.loads(job.read_text(encoding="utf-8")) | {"need_gpm": 500}
    hopeless = tmp_path / "hopeless.json"
    hopeless.write_text(json.dumps(document), encoding="utf-8")
    assert main(["--job", str(job)]) == 0
    assert main(["--job", str(hopeless)]) == 3
    assert "Nothing    on the list serves." in capsys.readouterr().out


def test_a_job_is_read_from_standard_input(
    job: Path, capsysbinary: pytest.CaptureFixture[bytes]
) -> None:
    command = [sys.executable, "-m", "drainpump", "--job", "-"]
    piped = subprocess.run(
        command, input=job.read_bytes(), capture_output=True, check=True, cwd=ROOT
    ).stdout
    assert main(["--job", str(job)]) == 0
    assert piped == capsysbinary.readouterr().out


def test_a_report_is_written_in_the_form_of_its_ending(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "page.html"
    assert main(["--job", str(job), "--report", str(page), "--units", "metric"]) == 0
    assert capsys.readouterr().err == f"drainpump: report written to {page}\n"
    found = dp.report(dp.read_job(job))
    assert page.read_text(encoding="utf-8") == found.to_html("metric")
    assert main(["--job", str(job), "--full"]) == 0
    assert capsys.readouterr().out == found.to_text(appendix=True) + "\n"


def test_it_says_its_version(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as end:
        main(["--version"])
    assert end.value.code == 0
    assert re.fullmatch(r"drainpump \S+\n", capsys.readouterr().out)


def test_what_is_odd_in_a_job_is_said_every_time(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    document = json.loads(job.read_text(encoding="utf-8"))
    document["lines"][0]["runs"][1]["length_ft"] = 22800
    job.write_text(json.dumps(document), encoding="utf-8")
    for _ in range(2):
        assert main(["--job", str(job)]) == 0
        assert "Look at    length_ft=22800 is 69" in capsys.readouterr().out


@pytest.mark.skipif(os.name == "nt", reason="such a file cannot be")
def test_a_file_is_named_and_its_name_not_obeyed(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plot = tmp_path / "x\x1b[2J\x9b2J.png"
    assert main(["--job", str(job), "--plot", str(plot)]) == 0
    assert "x\\x1b[2J\\x9b2J.png\n" in capsys.readouterr().err
    assert main(["--job", "no\x1b[2J.json"]) == 2
    assert capsys.readouterr().err == (
        "drainpump: no\\x1b[2J.json: cannot be read (No such file or directory); "
        "give the path of a job file.\n"
    )


def test_closed_output_and_an_unknown_screen_are_borne(job: Path, tmp_path: Path) -> None:
    plot = tmp_path / "duty.png"
    command = f"{sys.executable} -W error -m drainpump --job {job} --plot {plot} >&-"
    surroundings = {**os.environ, "MPLBACKEND": "nonsense", "PYTHONPATH": str(ROOT)}
    found = subprocess.run(
        ["sh", "-c", command], capture_output=True, check=False, cwd=tmp_path, env=surroundings
    )
    told = f"drainpump: head against flow drawn in {plot}\n"
    assert (found.returncode, found.stderr.decode()) == (0, told)
    assert plot.stat().st_size > 10_000


@pytest.mark.skipif(os.name == "nt", reason="said in a shell's own words")
@pytest.mark.parametrize(
    ("command", "code"),
    [
        (">&-", 0),
        ("--full | true", 0),
        ("--report page.html", 0),
        ("--job - <&-", 2),
        ("> /dev/full", 2),
    ],
)
def test_odd_surroundings_leave_no_traceback(
    job: Path, tmp_path: Path, command: str, code: int
) -> None:
    done = subprocess.run(
        f"{sys.executable} -W error -m drainpump --job {job} {command}", shell=True, cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT), "MPLBACKEND": "nonsense"},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
