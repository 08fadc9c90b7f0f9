"""Values as people say them to the tool, and values that a procedure hopes for. Pure."""

from datetime import date
from decimal import Decimal, InvalidOperation

from handsfree.definition.form import DateField, Number, Step, StepField
from handsfree.definition.loader import Bundle
from handsfree.definition.value_checking import FitFault, days_of, misfit_of, places_of
from handsfree.definition.verbalization import cardinal, digits, spelled
from handsfree.model.readings import Exact, Option, SpelledText, SpokenDate, SpokenValue, plain
from handsfree.understanding.dates import MONTHS, month_end

_ALIKE = {13, 30}
"""Thirteen and thirty sound alike, so the tool takes them digit by digit only."""
USUAL_CODE = "K4"
SECOND_CODE = "S2"
"""Of whoever confirms beside the operator; invented."""
LATER_DATE = date(2028, 6, 9)
EARLIER_DATE = date(2026, 1, 5)


def value_fault(step: Step, field: StepField, value: str) -> str | None:
    """Why a value does not fit a field of a step, and what would; None if it fits."""
    meant = _meant(field, value)
    if isinstance(meant, str):
        return meant
    misfit = misfit_of(step, field, meant)
    if misfit is None:
        return None
    limits = misfit.number
    if limits is None:
        return f"{value!r} is no option of it (there are: {', '.join(misfit.options)})"
    if misfit.fault is FitFault.TOO_MANY_DECIMALS:
        return f"{value} has more than {limits.decimals} decimals"
    return f"{value} is not from {limits.low} to {limits.high}"


def _meant(field: StepField, value: str) -> SpokenValue | str:
    """The value that a text means, or why it means none."""
    if field.options is not None:
        return Option(value)
    if field.number is not None:
        try:
            amount = Decimal(value)
        except InvalidOperation:
            return f"{value!r} is no number in quotes such as '1.5'"
        return Exact(amount, places_of(amount))
    if field.date is not None:
        try:
            return SpokenDate(date.fromisoformat(value))
        except ValueError:
            return f"{value!r} is no date such as 2027-12-31"
    longest = field.identifier.max_length if field.identifier is not None else 0
    # Longer than a label may be is said here, with the characters that can be spoken at all.
    if not (value.isascii() and value.isalnum() and value == value.upper() and len(value) <= longest):
        return f"{value!r} is no code of at most {longest} capitals and digits"
    return SpelledText(value)


def hoped_for(field: StepField, bundle: Bundle, today: date, step: Step) -> str:
    """A value of a field that nothing in the files flags; the same each time."""
    if field.options is not None:
        flagged = {*field.stop, *field.amber, *field.red}
        return next((option for option in field.options if option not in flagged), next(iter(field.options)))
    if field.number is not None:
        return _hoped_number(field.number, bundle, step)
    if field.date is not None:
        return _hoped_date(field.date, today)
    if step.second_person is not None and step.second_person.code == field.id:
        return SECOND_CODE
    return USUAL_CODE


def _hoped_date(limits: DateField, today: date) -> str:
    earliest, latest = days_of(limits, today)
    lies_ahead = limits.not_before is not None or (earliest is not None and earliest >= today)
    day = max(LATER_DATE, today) if lies_ahead else min(EARLIER_DATE, today)
    day = max(day, earliest or day)
    day = min(day, latest or day)
    return month_end(day.year, day.month).isoformat() if limits.month_only else day.isoformat()


def _hoped_number(limits: Number, bundle: Bundle, step: Step) -> str:
    device = bundle.device
    if limits.band is not None and device is not None:
        band = device.bands[limits.band]
        return str(round((band.confirm_from + band.confirm_to) / 2))
    if step.size_from is not None and device is not None and device.size_chart is not None:
        row = device.size_chart.rows[len(device.size_chart.rows) // 2]
        return str(round((row.from_ + row.to) / 2, min(limits.decimals, 1)))
    low = max([limits.low, *(limit.bound for limit in limits.limits if not limit.above)])
    high = min([limits.high, *(limit.bound for limit in limits.limits if limit.above)])
    return str((low + (high - low) / 4).quantize(Decimal(1).scaleb(-limits.decimals)))


def as_recorded(field: StepField, value: str) -> str:
    """A value as the record and the read-back write it: a number without zeros at its end."""
    return plain(Decimal(value)) if field.number is not None else value


def answer_words(step: Step, values: dict[str, str]) -> str:
    """An answer to a step: one value as it is, several each after its label, a date too: another may be asked for.

    Args:
        step: The step.
        values: Field to value, of all fields or of those that are still missing.
    """
    several = len(step.fields) > 1
    parts = [
        f"{field.label} {_words(field, values[field.id])}" if several or field.date else _words(field, values[field.id])
        for field in step.fields
        if field.id in values
    ]
    return ", ".join(parts)


def _words(field: StepField, value: str) -> str:
    if field.options is not None:
        return field.options[value][0]
    if field.number is not None:
        return digits(value)
    if field.date is not None:
        day = date.fromisoformat(value)
        year = f"{cardinal(day.year // 100)} {cardinal(day.year % 100)}"
        if day.year % 100 in _ALIKE:
            year = digits(str(day.year))
        month = MONTHS[day.month - 1].lower()
        if field.date.month_only:
            return f"{month} {year}"
        return f"{month} {digits(str(day.day)) if day.day in _ALIKE else cardinal(day.day)} {year}"
    return spelled(value).replace(",", "")
