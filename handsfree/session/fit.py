"""Why a spoken value cannot be taken by its field, as a reason to be told. Pure."""

from handsfree.definition.field_fit import FitFault, misfit_of
from handsfree.definition.form import StepField
from handsfree.definition.plan import Stage
from handsfree.model.readings import Ambiguous, HowToSay, NeedsAsking, Refused, SpelledText, SpokenDate, SpokenValue
from handsfree.model.refusals import Decimals, DoesNotFit, FitCode, OutOfRange, RefusalReason, SayItSo

_CODES = {
    FitFault.NEEDS_ONE_NUMBER: FitCode.ONE_NUMBER,
    FitFault.NEEDS_ANSWER: FitCode.AN_ANSWER,
    FitFault.NOT_LISTED: FitCode.NOT_ON_THE_LIST,
    FitFault.LENGTH: FitCode.CODE_LENGTH,
}


def refusal_of(stage: Stage, field: StepField, value: SpokenValue) -> RefusalReason | None:
    """Why a value does not fit its field; None if it does."""
    match value:
        case Ambiguous():
            return SayItSo(field.label, HowToSay.DIGIT_BY_DIGIT)
        case NeedsAsking(code=code, arguments=arguments) | Refused(code=code, arguments=arguments):
            return SayItSo(field.label, code, arguments)
    misfit = misfit_of(stage.step, field, value)
    if misfit is None:
        return None
    limits = misfit.number
    match misfit.fault:
        case FitFault.TOO_MANY_DECIMALS if limits is not None:
            return Decimals(field.label, limits.decimals)
        case FitFault.OUT_OF_RANGE if limits is not None:
            return OutOfRange(field.label, limits.low, limits.high)
        case FitFault.OTHER_KIND:
            return DoesNotFit(field.label, _other_kind(value))
        case fault:
            return DoesNotFit(field.label, _CODES[fault])


def _other_kind(value: SpokenValue) -> FitCode:
    """What a value that is of another kind than its field was said to be."""
    match value:
        case SpokenDate():
            return FitCode.NO_DATE
        case SpelledText():
            return FitCode.CODE_LENGTH
        case _:
            return FitCode.NO_NUMBER
