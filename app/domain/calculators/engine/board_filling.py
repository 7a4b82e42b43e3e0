"""How full one board can be cut: sums of part lengths as the bits of one whole number.

Bit t of a number is set where some of the parts take exactly t together. Shifting the number by a
part's length and joining it to itself adds that part to every sum at once, so that the fullest
cutting of every board on the rack is read from a few shifts.
"""

from collections.abc import Sequence

# Longer numbers are no exacter than a saw: a 4 m board in steps of 8 µm.
LONGEST_BITS = 1 << 19


class Sums:
    """Which lengths the parts still wanted can take together, up to the longest board."""

    def __init__(self, sizes: Sequence[int], demand: Sequence[int], longest: int) -> None:
        # Parts are rounded up and boards down, so that what fits here fits the board.
        self._step = 1 + longest // LONGEST_BITS
        self._sizes = [-(-size // self._step) for size in sizes]
        self._demand = demand
        end = longest // self._step
        everything = (1 << (end + 1)) - 1
        # self._sums[i]: sums of the parts i, i + 1, …; the longest part is number 0.
        self._sums = [1] * (len(sizes) + 1)
        for i in reversed(range(len(sizes))):
            bits, size = self._sums[i + 1], self._sizes[i]
            left, take = min(demand[i], end // size), 1
            while left:
                bits |= (bits << (min(take, left) * size)) & everything
                left -= min(take, left)
                take *= 2
            self._sums[i] = bits

    def offcut(self, room: int) -> int:
        """The least that can be left of a room."""
        return room - self._step * self._fullest(0, room // self._step)

    def pattern(self, room: int, enough: int) -> tuple[int, ...]:
        """How many of each part leave the least, or at most ``enough``, with long parts first."""
        inside = room // self._step
        least = min(self._fullest(0, inside), max(0, (room - enough) // self._step))
        counts = []
        for i, size in enumerate(self._sizes):
            count = min(self._demand[i], inside // size)
            while count and self._fullest(i + 1, inside - count * size) < least - count * size:
                count -= 1
            counts.append(count)
            inside -= count * size
            least -= count * size
        return tuple(counts)

    def _fullest(self, first: int, room: int) -> int:
        """The largest sum of the parts from number ``first`` on that a room holds."""
        return (self._sums[first] & ((1 << (room + 1)) - 1)).bit_length() - 1
