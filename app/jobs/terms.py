"""What one process of the fit check does. Imports the domain only, so that it starts quickly."""

from dataclasses import dataclass

from app.domain.scheduling.chance import Chances, Played, Player
from app.domain.scheduling.problem import Problem
from app.domain.scheduling.schedule import Schedule


@dataclass(frozen=True)
class Round:
    """A plan to be played: everything a process needs."""

    problem: Problem
    plan: Schedule
    chances: Chances
    seed: int = 0

    def player(self) -> Player:
        """The round compiled, ready to play any term."""
        return Player(self.problem, self.plan, self.chances, self.seed)


_PLAYERS: list[Player] = []  # one per process, made once


def prepare(asked: Round) -> None:
    """Compile the round when the process starts."""
    _PLAYERS[:] = [asked.player()]


def play_chunk(chunk: range) -> list[Played]:
    """Play some terms."""
    return [_PLAYERS[0].play(term) for term in chunk]
