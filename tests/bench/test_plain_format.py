"""The yardstick of the comparison writes the same bytes as the tool."""

from pipeline import VERSION
from pipeline.order_inputs import read_inputs
from pipeline.order_state import check_plaques
from pipeline.outputs.cut_files.cut_files import CutFiles
from tests.bench import plain_format
from tests.bench.orders import write_order


def test_the_plainest_formatter_writes_the_same_bytes(tmp_path):
    folder = write_order(tmp_path / "order", ["Björn O’Marren", "Kit Yewdale"])
    read = read_inputs(folder)
    writer = CutFiles(read.folder, read.blank, read.target, VERSION)
    plaques = [writer.make(plaque) for plaque in check_plaques(read).plaques]
    assert all(plain_format.same_bytes(writer, plaque, read.target) for plaque in plaques)
    file = read.target / plaques[0].cut_file
    file.write_bytes(file.read_bytes().replace(b" 10\r\n5", b" 10\r\n6", 1))
    assert not plain_format.same_bytes(writer, plaques[0], read.target)
