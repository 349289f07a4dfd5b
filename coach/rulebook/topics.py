"""Topics: what people speak of, as facts and as rules that make the coach look there first."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from coach.model import Condition, Fact, Rule, Topic
from coach.rulebook.conditions import closest
from coach.rulebook.entries import CausesFile, TopicsFile
from coach.rulebook.source import Source

TOPICS = "topics.toml"
GROUP = "spoken of"
_BECAUSE = "You spoke of {says}."
_DOUBT = "It was said in passing, or to deny it."


def fact_name(topic: str) -> str:
    """The fact that says the topic came up."""
    return f"spoken_of.{topic}"


def read_topics(file: TopicsFile) -> tuple[Topic, ...]:
    """The topics in their order."""
    return tuple(
        Topic(name, entry.says, tuple(entry.words), tuple(entry.but_not))
        for name, entry in file.topic.items()
    )


def topic_facts(topics: Iterable[Topic]) -> dict[str, Fact]:
    """A fact for each topic."""
    names = {topic.id: fact_name(topic.id) for topic in topics}
    return {
        name: Fact(name, "bool", "computed", f"talk of {topic}", file=TOPICS) for topic, name in names.items()
    }


def topic_rules(source: Source, file: TopicsFile, head: CausesFile) -> tuple[Rule, ...]:
    """A rule for each topic; causes and strengths that do not exist are noted as faults."""
    return tuple(_rule(source, name, file, head) for name in file.topic)


def _rule(source: Source, name: str, file: TopicsFile, head: CausesFile) -> Rule:
    entry, table = file.topic[name], f"topic.{name}"
    line = source.line(TOPICS, table)
    weighs = []
    for cause, strength in entry.speaks_for.items():
        known: Mapping[str, object] = head.cause if cause not in head.cause else head.strength
        wrong = cause if cause not in head.cause else strength
        if wrong not in known:
            source.fault(TOPICS, line, table, f"'{wrong}' is not known", closest(wrong, known))
        else:
            weighs.append((cause, head.strength[strength]))
    fact = fact_name(name)
    return Rule(
        id=f"spoken-of-{name}",
        title=f"Spoken of: {entry.says}",
        when=(Condition(fact, "is", True, f"{fact} is yes"),),
        unless=(),
        because=_BECAUSE.replace("{says}", entry.says),
        source="common practice",
        status="tried",
        doubt=_DOUBT,
        group=GROUP,
        weighs=tuple(weighs),
        file=TOPICS,
        line=line,
    )
