"""``python -m tests.reference``: every reference check as a table."""

from __future__ import annotations

from tests.reference.gather import checks


def main() -> int:
    """Print what, ours, published, difference and source; 1 where a check fails."""
    failed = total = 0
    for subject, some in checks().items():
        print(f"\n{subject} ({len(some)} checks)")
        print(f"{'what':<64} {'ours':>12} {'published':>12} {'off %':>8} {'of tol.':>8}  source")
        for check in some:
            ours = check.ours()
            off = ours - check.published
            share = abs(off) / check.tolerance
            percent = 100 * off / check.published if check.published else float("nan")
            mark = " " if share <= 1 else "!"
            print(
                f"{check.what[:64]:<64} {ours:>12.6g} {check.published:>12.6g} {percent:>8.2f} "
                f"{share:>7.0%}{mark}  {check.source}"
            )
            total += 1
            failed += share > 1
    print(f"\n{total} checks, {failed} outside their tolerance")
    return int(failed > 0)


if __name__ == "__main__":
    raise SystemExit(main())
