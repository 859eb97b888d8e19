"""A drawn floor in cells of one size: which of them lie indoors, and which belong together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, sqrt
from typing import Any

from advisor.site.building import Floor
from advisor.site.schema import Site

SIDES_M = (0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 24.0, 32.0, 48.0, 64.0)
"""Sides a cell may have: the smallest is taken at which there are not too many cells."""
AROUND_M = 1.0
"""What is taken around nodes and places where no walls enclose anything."""


ON_WALL_M = 0.05
"""How far outside a point still counts as on the wall."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: its column from the left, its row from below, and its middle."""

    column: int
    row: int
    middle: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Grid:
    """The indoor cells of one floor."""

    floor: str
    left: float
    low: float
    width_m: float
    depth_m: float
    """Sides of a cell."""
    cells: tuple[Cell, ...]
    outline: Any
    """What counts as indoors, a shapely polygon."""

    def cell_at(self, x: float, y: float) -> tuple[int, int]:
        """Column and row of a point."""
        return int((x - self.left) // self.width_m), int((y - self.low) // self.depth_m)

    def holds(self, x: float, y: float) -> bool:
        """Whether a point is indoors; one on a wall is."""
        import shapely

        return bool(self.outline.distance(shapely.Point(x, y)) <= ON_WALL_M)

    def nearest(self, x: float, y: float) -> Cell | None:
        """The indoor cell a point lies in, on its edge, or next to; None farther away than a cell."""
        column, row = self.cell_at(x, y)
        near = [cell for cell in self.cells if abs(cell.column - column) <= 1 and abs(cell.row - row) <= 1]
        away = {cell: (cell.middle[0] - x) ** 2 + (cell.middle[1] - y) ** 2 for cell in near}
        return min(near, key=lambda cell: (away[cell], cell.column, cell.row)) if near else None

    def shape_of(self, cells: Iterable[Cell]) -> list[list[list[tuple[float, float]]]]:
        """Cells as polygons in metres, the outer ring first: neighbours joined, cut off at the outer walls."""
        import shapely

        boxes = [
            shapely.box(
                self.left + cell.column * self.width_m,
                self.low + cell.row * self.depth_m,
                self.left + (cell.column + 1) * self.width_m,
                self.low + (cell.row + 1) * self.depth_m,
            )
            for cell in cells
        ]
        joined = shapely.intersection(shapely.union_all(boxes, grid_size=1e-6), self.outline)
        parts = [part for part in getattr(joined, "geoms", [joined]) if part.geom_type == "Polygon" and part.area > 0]
        return [[list(ring.coords) for ring in (part.exterior, *part.interiors)] for part in sorted_parts(parts)]


def sorted_parts(parts: Sequence[Any]) -> list[Any]:
    """Polygons in an order that does not hang on how they were made."""
    return sorted(parts, key=lambda part: part.bounds)


def grids(site: Site, most: int) -> tuple[Grid, ...]:
    """The drawn floors in cells of one size, at most about so many in all, from the lowest floor up.

    Indoors is what the walls of a floor enclose, courtyards too; where they enclose nothing, or less than half of what
    stands on that floor, the rectangle around all that is drawn.
    """
    outlines = {}
    for name, floor in sorted(site.floors.items(), key=lambda entry: (entry[1].level, entry[0])):
        outline = _outline(site, name, floor)
        if outline is not None:
            outlines[name] = outline
    area = sum(outline.area for outline in outlines.values())
    side = next((side for side in SIDES_M if area / side**2 <= most), sqrt(area / most))
    return tuple(_grid(name, outline, side) for name, outline in outlines.items())


def _grid(floor: str, outline: Any, side: float) -> Grid:
    import numpy as np
    import shapely

    left, low, right, high = outline.bounds
    columns, rows = (max(ceil(round(span / side, 6)), 1) for span in (right - left, high - low))
    width, depth = (right - left) / columns, (high - low) / rows
    x, y = np.meshgrid(left + (np.arange(columns) + 0.5) * width, low + (np.arange(rows) + 0.5) * depth)
    indoors = shapely.contains_xy(outline, x, y)
    cells = tuple(
        Cell(int(column), int(row), (float(x[row, column]), float(y[row, column])))
        for row, column in np.argwhere(indoors)
    )
    return Grid(floor, float(left), float(low), float(width), float(depth), cells, outline)


def _outline(site: Site, name: str, floor: Floor) -> Any:
    """What counts as indoors on a floor; None where nothing is drawn."""
    import shapely
    from shapely.ops import polygonize

    lines = [shapely.LineString(wall.line) for wall in floor.walls.values()]
    enclosed = list(polygonize(shapely.union_all(lines, grid_size=1e-6))) if lines else []
    ends = [*site.nodes.values(), *site.places.values()]
    points = [shapely.Point(end.at) for end in ends if end.at is not None and end.floor == name]
    if enclosed:
        whole = shapely.union_all(sorted_parts(enclosed))
        inside = sum(whole.distance(point) <= AROUND_M for point in points)
        if 2 * inside >= len(points):
            return whole
    if not lines and not points:
        return None
    around = shapely.box(*shapely.union_all([*lines, *(point.buffer(AROUND_M) for point in points)]).bounds)
    return around if around.area > 0 else around.buffer(AROUND_M, cap_style="square")
