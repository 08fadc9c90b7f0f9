"""JSGF 1.0 grammar files: text to syntax tree.

Source: JSpeech Grammar Format, W3C Note of 5 June 2000.

Differences from the note: recursion is refused, because a word graph is finite; a quoted text with blanks stands for
several words; words are lower-cased.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from lark import Lark, Token, Transformer, v_args
from lark.exceptions import UnexpectedInput, VisitError

from handsfree.errors import GrammarError
from handsfree.model.graph import WordGraph

_SYNTAX = r"""
grammar: HEADER "grammar" NAME ";" import_* rule*
import_: "import" RULE ";"
rule: [PUBLIC] RULE "=" alternatives ";"
alternatives: alternative ("|" alternative)*
alternative: [WEIGHT] item+
item: atom [REPEAT] TAG*
?atom: WORD -> word
    | QUOTED -> quoted
    | RULE -> reference
    | "(" alternatives ")"
    | "[" alternatives "]" -> optional

HEADER: /#JSGF[ \t]+V1\.0([ \t]+[^\s;]+){0,2}[ \t]*;/
PUBLIC: "public"
NAME: /[\w.$]+/
RULE: /<[ \t]*[^\s<>]+[ \t]*>/
WEIGHT: /\/[ \t]*[0-9]*\.?[0-9]+[ \t]*\//
REPEAT: /[*+]/
TAG: /\{([^{}\\]|\\.)*\}/
QUOTED: /"([^"\\]|\\.)+"/
WORD: /[^\s;=|*+<>()\[\]{}\/"\\]+/
COMMENT: /\/\/[^\n]*/ | /\/\*(.|\n)*?\*\//
%ignore COMMENT
%ignore /[ \t\r\n\f]+/
"""
TOO_DEEP = "too many of its parts lie in each other (give them rules of their own, and fewer)"


@dataclass(frozen=True, slots=True)
class Word:
    """One spoken word."""

    text: str


@dataclass(frozen=True, slots=True)
class Reference:
    """A rule named inside another; `line` is 0 where no file stands behind it."""

    name: str
    line: int = 0


@dataclass(frozen=True, slots=True)
class Sequence:
    """Parts said one after the other; none at all is `<NULL>`."""

    parts: tuple["Expansion", ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """Exactly one of several; of none at all is `<VOID>`.

    Attributes:
        options: The alternatives.
        weights: Relative weights, one each, or empty for equal ones.
    """

    options: tuple["Expansion", ...]
    weights: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Repeat:
    """The same again and again.

    Attributes:
        part: What is repeated.
        at_least: 0 or 1.
        between: What is said between two of it, or None.
    """

    part: "Expansion"
    at_least: int
    between: "Expansion | None" = None


@dataclass(frozen=True, slots=True)
class Tagged:
    """An expansion with meaning attached."""

    part: "Expansion"
    tags: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Embedded:
    """A part that is a word graph already; never written in a file."""

    graph: WordGraph


Expansion = Word | Reference | Sequence | Choice | Repeat | Tagged | Embedded

NULL = Sequence(())
VOID = Choice(())


def optional(part: Expansion) -> Expansion:
    """`[part]`: said or left out."""
    return Choice((NULL, part))


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule.

    Attributes:
        name: Without the angle brackets.
        public: Whether other grammars may import it.
        expansion: Its right-hand side.
        line: Where it begins.
    """

    name: str
    public: bool
    expansion: Expansion
    line: int


@dataclass(frozen=True)
class Grammar:
    """One grammar file.

    Attributes:
        name: The declared name.
        path: Where it was read, for messages.
        imports: Imported names, "grammar.rule" or "grammar.*", with their lines.
        rules: By name.
    """

    name: str
    path: str
    imports: tuple[tuple[str, int], ...]
    rules: Mapping[str, Rule] = field(default_factory=dict)


def _name(token: Token) -> str:
    return str(token)[1:-1].strip()


class _Builder(Transformer[Token, Any]):
    """Turns lark's tree into ours."""

    @v_args(inline=True)
    def word(self, token: Token) -> Expansion:
        return Word(str(token).lower())

    @v_args(inline=True)
    def quoted(self, token: Token) -> Expansion:
        text = str(token)[1:-1].replace('\\"', '"').replace("\\\\", "\\")
        words = tuple(Word(part.lower()) for part in text.split())
        return words[0] if len(words) == 1 else Sequence(words)

    @v_args(inline=True)
    def reference(self, token: Token) -> Expansion:
        name = _name(token)
        if name == "NULL":
            return NULL
        if name == "VOID":
            return VOID
        return Reference(name, token.line or 0)

    @v_args(inline=True)
    def optional(self, part: Expansion) -> Expansion:
        return optional(part)

    def item(self, children: list[Any]) -> Expansion:
        part, repeat, *tags = children
        if repeat is not None:
            part = Repeat(part, at_least=1 if repeat == "+" else 0)
        texts = tuple(str(tag)[1:-1].replace("\\}", "}").replace("\\{", "{").strip() for tag in tags)
        return Tagged(part, texts) if texts else part

    def alternative(self, children: list[Any]) -> tuple[float | None, Expansion]:
        weight, *items = children
        number = None if weight is None else float(str(weight)[1:-1])
        return number, items[0] if len(items) == 1 else Sequence(tuple(items))

    def alternatives(self, children: list[tuple[float | None, Expansion]]) -> Expansion:
        weights = tuple(weight for weight, _ in children if weight is not None)
        if weights and len(weights) != len(children):
            raise GrammarError("some alternatives carry a weight and some do not (give all of them one, or none)")
        if any(weight <= 0 for weight in weights):
            raise GrammarError("a weight is 0 (weights are above 0; use <VOID> for what may never be said)")
        options = tuple(option for _, option in children)
        return options[0] if len(options) == 1 and not weights else Choice(options, weights)

    def rule(self, children: list[Any]) -> Rule:
        public, name, expansion = children
        return Rule(_name(name), public is not None, expansion, name.line)

    def import_(self, children: list[Token]) -> tuple[str, int]:
        return _name(children[0]), children[0].line or 0

    def grammar(self, children: list[Any]) -> tuple[str, list[tuple[str, int]], list[Rule]]:
        _, name, *rest = children
        return str(name), [x for x in rest if isinstance(x, tuple)], [x for x in rest if isinstance(x, Rule)]


@lru_cache(maxsize=1)
def _parser() -> Lark:
    return Lark(_SYNTAX, start="grammar", parser="lalr", lexer="contextual", maybe_placeholders=True)


def parse(text: str, path: str = "<text>") -> Grammar:
    """Parse one grammar.

    Args:
        text: The file's text.
        path: What messages call it.

    Raises:
        GrammarError: With `path:line`, what is wrong and what was expected.
    """
    try:
        name, imports, rules = _Builder().transform(_parser().parse(text))
    except UnexpectedInput as error:
        column = f", column {error.column}" if error.column > 0 else ""
        context = error.get_context(text, span=20).splitlines()[0].strip() if error.pos_in_stream is not None else ""
        near = f' near "{context}"' if context else ""
        raise GrammarError(
            f"{path}:{max(error.line, 1)}: not JSGF{near}{column} "
            '(expected a file like "#JSGF V1.0; grammar name; public <rule> = word | other word;")'
        ) from error
    except VisitError as error:
        if isinstance(error.orig_exc, GrammarError):
            raise GrammarError(f"{path}: {error.orig_exc}") from error
        raise
    except RecursionError as error:
        raise GrammarError(f"{path}: {TOO_DEEP}") from error
    by_name: dict[str, Rule] = {}
    for rule in rules:
        if rule.name in by_name:
            raise GrammarError(
                f"{path}:{rule.line}: <{rule.name}> is already defined in line {by_name[rule.name].line} "
                "(define each rule once)"
            )
        by_name[rule.name] = rule
    return Grammar(name, path, tuple(imports), by_name)


class Grammars:
    """A set of grammars that may import from each other.

    Args:
        grammars: The set; names must differ.

    Raises:
        GrammarError: A name occurs twice, a reference or import leads nowhere, or a rule refers to itself.
    """

    def __init__(self, grammars: tuple[Grammar, ...]) -> None:
        self._by_name: dict[str, Grammar] = {}
        for grammar in grammars:
            if grammar.name in self._by_name:
                raise GrammarError(f"{grammar.path}:1: the grammar name {grammar.name} is taken (use another)")
            self._by_name[grammar.name] = grammar
        sound: set[tuple[str, str]] = set()
        for grammar in grammars:
            self._check_imports(grammar)
            try:
                for rule in grammar.rules.values():
                    self._check_recursion(grammar, rule, (), sound)
            except RecursionError as error:
                raise GrammarError(f"{grammar.path}: {TOO_DEEP}") from error

    def rule(self, qualified: str) -> Rule:
        """The rule "grammar.rule".

        Raises:
            GrammarError: There is none.
        """
        grammar_name, _, rule_name = qualified.rpartition(".")
        grammar = self._by_name.get(grammar_name)
        if grammar is None or rule_name not in grammar.rules:
            raise GrammarError(f"no grammar rule <{qualified}> (known grammars: {', '.join(sorted(self._by_name))})")
        return grammar.rules[rule_name]

    def names(self) -> tuple[str, ...]:
        """Every public rule, as "grammar.rule"."""
        return tuple(
            f"{grammar.name}.{rule.name}"
            for grammar in self._by_name.values()
            for rule in grammar.rules.values()
            if rule.public
        )

    def resolve(self, reference: Reference, inside: str) -> tuple[str, Rule]:
        """The grammar's name and the rule that a reference means inside grammar `inside` ("" for none).

        Raises:
            GrammarError: It leads nowhere, or to a rule that is not public.
        """
        home = self._by_name.get(inside)
        if home is not None and reference.name in home.rules:
            return inside, home.rules[reference.name]
        where = f"{home.path}:{reference.line}: " if home is not None else ""
        wanted_grammar, _, wanted_rule = reference.name.rpartition(".")
        candidates = [wanted_grammar] if wanted_grammar else self._importing(home, wanted_rule)
        for name in candidates:
            target = self._by_name.get(name)
            if target is not None and wanted_rule in target.rules:
                rule = target.rules[wanted_rule]
                if not rule.public and name != inside:
                    raise GrammarError(
                        f"{where}<{reference.name}> is private to {target.path} (write public before it)"
                    )
                return name, rule
        raise GrammarError(f"{where}<{reference.name}> is not defined (define it, or import it)")

    @staticmethod
    def _importing(home: Grammar | None, rule_name: str) -> list[str]:
        if home is None:
            return []
        split = [imported.rpartition(".") for imported, _ in home.imports]
        return [grammar for grammar, _, rule in split if rule in (rule_name, "*")]

    def _check_imports(self, grammar: Grammar) -> None:
        for imported, line in grammar.imports:
            name, _, rule = imported.rpartition(".")
            target = self._by_name.get(name)
            if target is None or (rule != "*" and rule not in target.rules):
                raise GrammarError(f"{grammar.path}:{line}: nothing to import as <{imported}>")

    def _check_recursion(
        self, grammar: Grammar, rule: Rule, above: tuple[tuple[str, str], ...], sound: set[tuple[str, str]]
    ) -> None:
        key = (grammar.name, rule.name)
        if key in sound:
            return
        if key in above:
            raise GrammarError(
                f"{grammar.path}:{rule.line}: <{rule.name}> refers to itself (say repetition with * or + instead)"
            )
        for reference in references(rule.expansion):
            name, target = self.resolve(reference, grammar.name)
            self._check_recursion(self._by_name[name], target, (*above, key), sound)
        sound.add(key)


def references(expansion: Expansion) -> list[Reference]:
    """Every rule reference inside an expansion."""
    match expansion:
        case Reference():
            return [expansion]
        case Sequence(parts=parts) | Choice(options=parts):
            return [found for part in parts for found in references(part)]
        case Repeat(part=part, between=between):
            return references(part) + (references(between) if between is not None else [])
        case Tagged(part=part):
            return references(part)
        case Word() | Embedded():
            return []


def load(folder: Path) -> Grammars:
    """Read every `*.jsgf` in a folder.

    Raises:
        GrammarError: The folder holds none, or any file is faulty; one line for each faulty file.
    """
    paths = sorted(folder.glob("*.jsgf"))
    if not paths:
        raise GrammarError(f"{folder}: no grammar files (expected *.jsgf)")
    grammars: list[Grammar] = []
    faults: list[str] = []
    for path in paths:
        try:
            grammars.append(parse(path.read_text(encoding="utf-8"), str(path)))
        except (OSError, UnicodeDecodeError) as error:
            faults.append(f"{path}: cannot be read: {error}")
        except GrammarError as error:
            faults.append(str(error))
    if faults:
        raise GrammarError("\n".join(faults))
    return Grammars(tuple(grammars))
