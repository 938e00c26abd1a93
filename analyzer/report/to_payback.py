"""The answer of `burrcast payback`: as a page of 80 columns and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from analyzer.orders import BadLine
from analyzer.payback import LONGEST, Hours, Month, Payback, Purchase
from analyzer.process.choose import STARTER
from analyzer.reasons import listed, money, spoken
from analyzer.report.behind import whose_hand_rates
from analyzer.report.escape import shown, whole
from analyzer.report.rows import notes_of_prices, quantity
from analyzer.report.wording import wrapped
from analyzer.rules.wording import capital
from analyzer.spread import Band
from analyzer.units import counted

MOSTLY = 0.5  # share of the saving from which hand work is named [-]
TOO_LATE = 360.0  # nobody waits longer; the machine is scrapped before [months]
SAFETY = {
    "mixer": "A mixer needs oxygen above its outlet pressure, often more than the oxygen line is"
    " made for; oxygen under pressure burns with oil. Licensed gas installer only.",
    "compressor": "Compressed air at cutting pressure: vessels, lines and filters by a competent"
    " installer and your local pressure rules.",
}


def payback_page(answer: Payback, bad: Sequence[BadLine] = ()) -> str:
    """Return the page: the month today, what each purchase saves, what is left out."""
    today = answer.today
    lines = [
        f"{counted(answer.parts, 'part')} a month from {counted(answer.rows, 'drawing')}",
        *wrapped(
            f"Today with {listed(map(spoken, today.gases))}: {_few(today.machine_hours)} h at the"
            f" machine, {_few(today.hand_hours)} h of hand work, {money(today.money)}"
            f" {answer.currency} a month without plate and unloading."
        ),
        "",
        *_hours("Hours a month today", today.hours),
    ]
    if not answer.purchases:
        lines += ["", "Mixed gas and air are there already: nothing to buy."]
    for purchase in answer.purchases:
        lines += ["", *_purchase(purchase, answer)]
    if bad:
        lines += ["", "Rows left out"]
        lines += [
            line for row in bad for line in wrapped(f"line {row.line}: {shown(row.reason, 300)}")
        ]
    lines += ["", "Assumptions", *(line for word in _assumed(answer) for line in wrapped(word))]
    lines += ["", "Take care"]
    kinds = [kind for kind in SAFETY if any(kind in one.name for one in answer.purchases)]
    lines += [line for kind in kinds for line in wrapped(SAFETY[kind])]
    lines += wrapped(
        "Nothing for interest, tax or space is counted; the list is taken as every month's."
    )
    return "\n".join(lines) + "\n"


def _assumed(answer: Payback) -> list[str]:
    """Say what the sums stand on that is not the shop's own."""
    rates, rows = answer.shop.rates, answer.rows
    bills = [bill for month in answer.months for bill in month.bills]
    notes = notes_of_prices(rates, bills, of_the_gas=True) if rates is not None else ()
    words = [capital(note) + "." for note in notes]
    starter = max(month.starter for month in answer.months)
    if starter:
        words.append(
            f"Speeds of {'all' if starter == rows else f'{starter} of {rows}'} drawings:"
            f" {STARTER}, +-30 %."
        )
    words.append(f"Hand work by {whose_hand_rates(answer.shop.rework)}.")
    return words


def _purchase(purchase: Purchase, answer: Payback) -> list[str]:
    saved, today, month = purchase.saved, answer.today, purchase.month
    title = "A " + purchase.name.upper().replace(" AND ", " AND A ")
    moved = sum(a != b for a, b in zip(today.chosen, month.chosen, strict=True))
    if moved == 0:
        return [f"{title}: saves nothing here, no drawing would be cut in another gas."]
    if saved.value < 0.0:
        dearer = Band(-saved.value, -saved.high, -saved.low)
        words = [f"{title}: costs {_band(dearer, answer.currency)} more a month than it saves."]
    else:
        words = [f"{title}: {_band(saved, answer.currency)} saved a month."]
    if saved.spans_zero:
        words.append("No saving we can prove.")
    words.append(_paid(purchase, answer.currency))
    machine = today.machine_hours - month.machine_hours
    hand = today.hand_hours - month.hand_hours
    words.append(
        f"{moved} of {counted(answer.rows, 'drawing')} {'moves' if moved == 1 else 'move'} to"
        f" another gas: {_less(machine)} at the machine,"
        f" {_less(hand)} of hand work a month."
    )
    if month.losses != today.losses:
        words.append(f"Places lost a month: {month.losses:,} instead of {today.losses:,}.")
    labour = answer.labour_per_h * hand
    if labour > MOSTLY * saved.value > 0.0:
        words.append(
            "Most of it is hand work, and that hangs on the burr class: grind three of your own"
            " parts first."
        )
    lines = [*wrapped(words[0], 0)]
    for word in words[1:]:
        lines += wrapped(word)
    return lines + _hours("  Hours a month", month.hours)[1:]


def _paid(purchase: Purchase, currency: str) -> str:
    if purchase.price is None:
        return "Price not told: give it as an option or under [invest]."
    price = f"{money(purchase.price)} {currency}"
    if purchase.months is None:
        return f"{price} are never paid back."
    months = purchase.months
    if months.low >= TOO_LATE:
        return f"{price} are not paid back within {TOO_LATE / 12.0:.0f} years."
    if months.high < 1.0:
        return f"{price} are paid back within the first month."
    late = "never" if months.high >= LONGEST else _time(months.high)
    return f"{price} are paid back in {_time(months.value)} ({_time(months.low)} to {late})."


def _time(months: float) -> str:
    """Return a time in months below two years, in years above."""
    if months < 0.95:
        return "less than a month"
    if months < 23.5:
        return f"{months:.0f} months" if months >= 1.5 else "1 month"
    return f"{months / 12.0:.1f} years"


def _less(hours: float) -> str:
    return f"{_few(abs(hours))} h {'less' if hours >= 0.0 else 'more'}"


def _band(saved: Band, currency: str) -> str:
    digits = 2 if max(abs(saved.low), abs(saved.high)) < 10.0 else 0
    value, low, high = (
        f"{round(one, digits) + 0.0:,.{digits}f}" for one in (saved.value, saved.low, saved.high)
    )
    return f"{value} {currency} ({low} to {high})"


def _hours(title: str, rows: Sequence[Hours]) -> list[str]:
    head = f"  {'':<14}{'gas':<12}{'machine h':>11} {'hand h':>11} {'gas, Nm3':>13}"
    body = [
        f"  {row.material:<14}{spoken(row.gas):<12}{_few(row.machine):>11} {_few(row.hand):>11}"
        f" {_nm3(row.use.total_nm3):>13}"
        for row in sorted(rows, key=lambda row: (row.material, -row.machine))
    ]
    return [title, head, *body]


def _few(hours: float) -> str:
    """Return hours with a tenth, the least of them with a thousandth: a part a month is no 0.0."""
    return f"{hours:,.1f}" if hours >= 0.0995 or hours < 0.0005 else f"{hours:.3f}"


def _nm3(value: float) -> str:
    return f"{value:,.0f}" if value >= 99.5 else quantity(value)


# --- JSON --------------------------------------------------------------------------------


def payback_object(answer: Payback, bad: Sequence[BadLine] = ()) -> dict[str, Any]:
    """Return the object `burrcast.payback/1`."""
    return {
        "schema": "burrcast.payback/1",
        "currency": whole(answer.currency),
        "parts_per_month": answer.parts,
        "drawings": answer.rows,
        "today": _month(answer.today),
        "purchases": [
            {
                "name": purchase.name,
                "month": _month(purchase.month),
                "saved_per_month": _numbers(purchase.saved),
                "price": purchase.price,
                "months_to_pay": purchase.months and _numbers(purchase.months),
                "never_paid_at_worst": purchase.months is not None
                and purchase.months.high >= LONGEST,
            }
            for purchase in answer.purchases
        ],
        "refused": [{"line": row.line, "reason": whole(row.reason)} for row in bad],
    }


def _month(month: Month) -> dict[str, Any]:
    return {
        "gases": list(month.gases),
        "money": round(month.money, 6),
        "machine_h": round(month.machine_hours, 6),
        "hand_h": round(month.hand_hours, 6),
        "lost_places": month.losses,
        "hours": [
            {
                "material": row.material, "gas": row.gas, "machine_h": round(row.machine, 6),
                "hand_h": round(row.hand, 6),
                "gas_nm3": {
                    gas: round(row.use.of(gas), 6) for gas in ("oxygen", "nitrogen", "air")
                },
            }
            for row in month.hours
        ],
    }  # fmt: skip


def _numbers(value: Band) -> dict[str, float]:
    return {name: round(getattr(value, name), 6) + 0.0 for name in ("value", "low", "high")}
