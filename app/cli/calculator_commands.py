"""`stringcourse calc`: the calculators on the command line."""

import difflib
import json

import click

from app.domain.calculators import CATALOGUE, Calculation, Calculator, InvalidInput, calculate
from app.domain.calculators.engine.calculator import ResultTable
from app.domain.quantities import UnitSystem
from app.interchange.calculation_json import calculation_data, catalogue_data, plain_symbol


@click.command("calc")
@click.argument("key", required=False)
@click.argument("values", nargs=-1, metavar="[NAME=VALUE]...")
@click.option("--list", "listing", is_flag=True, help="List the calculators and their quantities.")
@click.option("--solve", metavar="NAME", help="The quantity to find; leave its value out.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def calc(
    key: str | None, values: tuple[str, ...], *, listing: bool, solve: str | None, as_json: bool
) -> None:
    """Compute calculator KEY from values such as scale_length=25.5in frets=22.

    What is not given takes its default. Quote values with spaces: "scale_length=25 1/2 in".
    """
    if listing:
        _list_all(as_json=as_json)
        return
    if key is None:
        raise click.UsageError("name a calculator, or list them with --list.")
    calculator = _calculator(key)
    try:
        calculation = calculate(key, _given(values), solve)
    except InvalidInput as wrong:
        raise click.UsageError(str(wrong)) from wrong
    if as_json:
        data = calculation_data(calculator, calculation)
        click.echo(json.dumps(data, indent=2, ensure_ascii=False))
    else:
        _print(calculator, calculation)


def _calculator(key: str) -> Calculator:
    if key in CATALOGUE:
        return CATALOGUE[key]
    close = difflib.get_close_matches(key, list(CATALOGUE), n=3)
    hint = f"did you mean {' or '.join(close)}?" if close else "list them with --list."
    raise click.UsageError(f"there is no calculator “{key[:40]}”; {hint}")


def _given(values: tuple[str, ...]) -> dict[str, str]:
    given: dict[str, str] = {}
    for item in values:
        name, sign, value = item.partition("=")
        if not sign or not name.strip():
            raise click.UsageError(
                f"“{item[:40]}” is no value; write name=value, such as scale_length=25.5in."
            )
        if name.strip() in given:
            raise click.UsageError(f"{name.strip()[:40]} is given twice; give it once.")
        given[name.strip()] = value
    return given


def _list_all(*, as_json: bool) -> None:
    if as_json:
        click.echo(json.dumps(catalogue_data(), indent=2, ensure_ascii=False))
        return
    for calculator in CATALOGUE.values():
        click.echo(f"{calculator.key}: {calculator.question}")
        for quantity in calculator.quantities:
            unit = f" in {quantity.si_unit}" if quantity.si_unit else ""
            symbol = plain_symbol(quantity.symbol)
            click.echo(f"    {quantity.key:28s}{symbol:10s}{quantity.name}{unit}")


def _print(calculator: Calculator, calculation: Calculation) -> None:
    si, shop = calculation.display(), calculation.display(UnitSystem.US_SHOP)
    click.echo(calculator.title)
    for heading, keys in (("found", calculation.outputs), ("from", calculation.inputs)):
        click.echo(f"{heading}:")
        for quantity in calculator.quantities:
            if quantity.key in keys:
                name = quantity.key
                also = f"  = {shop[name]}" if shop[name] != si[name] else ""
                click.echo(f"    {name:28s}{si[name]}{also}")
    if calculation.table is not None:
        _print_table(calculation.table)
    for note in calculation.notes:
        click.echo(note)


def _print_table(table: ResultTable) -> None:
    lines = [table.headings(), *table.written()]
    widths = [max(len(line[place]) for line in lines) for place in range(len(table.columns))]
    click.echo(f"\n{table.title}")
    for line in lines:
        cells = [cell.ljust(width) for cell, width in zip(line, widths, strict=True)]
        click.echo("  ".join(cells).rstrip())


COMMANDS = (calc,)
