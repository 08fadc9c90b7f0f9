"""Sentences of a graph and what is nearly one, to be looked up in it."""

from handsfree.understanding.graphs import graph_sampler

LONGEST = 14
NOBODY = "xylophone"


def tried(graph, rng, count):
    """Sentences of a graph, and each with a word changed, put in, or left out: most of those are none."""
    words = sorted(graph.words)
    for _ in range(count):
        said = list(graph_sampler(graph, rng, LONGEST)[0])
        at = rng.randrange(len(said))
        yield said
        yield [*said[:at], rng.choice(words), *said[at + 1 :]]
        yield [*said[:at], rng.choice(words), *said[at:]]
        yield [*said[:at], *said[at + 1 :]]
        yield [*said, NOBODY]
