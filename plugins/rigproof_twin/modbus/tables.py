"""The four tables of a unit (MODBUS Application Protocol V1.1b3, 4.3): what is read and written at which address."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from rigproof_twin.modbus.numbers import Place

ILLEGAL_FUNCTION, ILLEGAL_ADDRESS, ILLEGAL_VALUE, DEVICE_FAILURE = 1, 2, 3, 4
GATEWAY_TARGET_SILENT = 11


class ModbusException(Exception):
    """A request that is answered with an exception code."""

    def __init__(self, code: int) -> None:
        self.code = code
        super().__init__(code)


@dataclass(frozen=True)
class Cell:
    """Something that takes one or several addresses: how it is read, and how it is written (None: it is not)."""

    place: Place
    size: int
    read: Callable[[], Sequence[int]]
    write: Callable[[Sequence[int]], None] | None = None


class Tables:
    """The cells of a unit."""

    def __init__(self) -> None:
        self._cells: list[Cell] = []

    def add(self, cell: Cell) -> None:
        """Put a cell into its table; of two at one address the first is read and written."""
        self._cells.append(cell)

    def read(self, table: str, address: int, count: int) -> list[int]:
        """Values at addresses in a row, each cell read once; exception 2 where one of them does not exist."""
        found: dict[int, int] = {}
        for cell in self._over(table, address, count):
            for offset, value in enumerate(cell.read()):
                found.setdefault(cell.place.address + offset, value)
        return [found[wanted] for wanted in range(address, address + count)]

    def write(self, table: str, address: int, values: Sequence[int]) -> None:
        """Set values in a row; exception 2 where one cannot be written, or only a part of a number would be."""
        end = address + len(values)
        cells = self._over(table, address, len(values))
        for cell in cells:
            first = cell.place.address
            if cell.write is None or first < address or first + cell.size > end:
                raise ModbusException(ILLEGAL_ADDRESS)
        for cell in cells:
            first = cell.place.address - address
            assert cell.write is not None, "looked at above"
            cell.write(values[first : first + cell.size])

    def _over(self, table: str, address: int, count: int) -> list[Cell]:
        """The cells over a range of addresses, which must be without gaps."""
        cells = [
            cell
            for cell in self._cells
            if cell.place.table == table
            and cell.place.address < address + count
            and address < cell.place.address + cell.size
        ]
        covered = {cell.place.address + offset for cell in cells for offset in range(cell.size)}
        if not covered.issuperset(range(address, address + count)):
            raise ModbusException(ILLEGAL_ADDRESS)
        return cells
