"""Writes pump_bench.vcd as a capture of the transfer pump on a bench might look: PyPI pyvcd 0.5.1."""

import sys

from vcd import VCDWriter

with VCDWriter(sys.stdout, timescale="10 us", date="", init_timestamp=0) as writer:
    start = writer.register_var("capture.inputs", "StartPB", "wire", size=1, init="x")
    pump = writer.register_var("capture.outputs", "Pump", "wire", size=1, init=0)
    count = writer.register_var("capture.plc.TransferPump", "Count", "integer", size=16, init=0)
    waited = writer.register_var("capture.plc.TransferPump", "Waited", "time", size=64, init=0)
    level = writer.register_var("capture.plc.TransferPump", "Level", "real", init=0.25)
    phase = writer.register_var("capture.plc.TransferPump", "Phase", "string", init="Idle")
    text = writer.register_var("capture.plc.TransferPump", "Crop", "string", init="")
    mask = writer.register_var("capture.plc.TransferPump", "Mask", "reg", size=(4, 4), init=("x", 0))
    writer.change(start, 50_000, 1)
    writer.change(start, 70_000, 0)
    writer.change(pump, 130_200, 1)
    writer.change(level, 130_200, -1.5e-3)
    writer.change(phase, 130_200, "Filling")
    writer.change(text, 130_200, "young\tbasil, \\ and more")
    writer.change(mask, 130_300, (10, 5))
    writer.change(waited, 130_300, 800_000_000)
    writer.change(count, 300_000, -2)
    writer.change(pump, 300_400, "z")
    writer.change(pump, 300_500, 0)
    writer.change(phase, 300_500, "Idle")
    writer.close(1_000_000)
