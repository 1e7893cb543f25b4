"""A first shop file, ready to be read: only keys that a shop fills in, without any assumed value."""

from __future__ import annotations

from pathlib import Path

from pipeline.core.errors import CannotRun, Fault
from pipeline.core.storage.files import write_whole
from pipeline.intake.order.shop_file import SHOP_FILE, FoundShop, read_shop

TEXT = """\
# The shop file: what all orders of your shop share. Every order in this folder, or in a folder below it, uses it; an
# order's own values win. All keys are in the reference, shop-keys.md.
# Remove the # from a line to use it. No value is assumed for you.
units = "mm"                    # every length in this file; "in" for inches. New orders start in this unit

[shop]
name      = ""                  # your shop's name, on every proof
contact   = ""                  # how a client reaches you
return_to = ""                  # where the signed proof goes
# paper     = "A4"              # or "letter"
# language  = "en"              # of your proofs
# fonts     = "fonts"           # a folder of your own fonts beside this file; orders name one as a typeface

[rates]                         # without prices, only times are given
# currency     = "EUR"
# hour         =                # price of an hour of hand work
# machine_hour =                # price of an hour on the machine
# setup        =                # minutes for the first set-up of a job
# fixing       =                # minutes to fix and zero one board or blank

[labels]                        # the sheet of labels you buy
# columns = 3
# rows    = 7

# [[cutter]]                    # a cutter of your own; orders say use = "fine-point" under [cutter]
# name = "fine-point"
# kind = "point"                # or "v-bit", "end-mill", "laser"
# tip  =                        # width of its line

# [[resin]]                     # a resin you use; orders say use = "clear" under [pour]
# name       = "clear"
# data_sheet = ""               # title and date of its data sheet: copy every value below from it
# by_volume  = [ , ]            # resin, hardener
# by_weight  = [ , ]
# density    =                  # g/ml of the mix
# layer      =                  # deepest layer poured at once
# working_time   =              # minutes
# between_layers =              # hours
# demould        =              # hours before the piece may be moved
# machine        =              # hours before it may be sawn and sanded
"""


def write_shop_file(folder: Path) -> FoundShop:
    """Write a first shop file into a folder and read it back. CannotRun when the folder already has one, or isn't a
    folder."""
    file = folder / SHOP_FILE
    if file.exists() or file.is_symlink():
        raise CannotRun(
            Fault(where=str(file), found="there is already a shop file here", expected="a folder without one")
        )
    if not folder.is_dir():
        raise CannotRun(Fault(where=str(folder), found="no such folder", expected="the folder that your orders lie in"))
    write_whole(file, TEXT.encode())
    return read_shop(file)
