local inputs, fold = ...
local blocks = require("blocks")
local r_trig, f_trig, ton, tof, tp = blocks.r_trig, blocks.f_trig, blocks.ton, blocks.tof, blocks.tp
local ctu, ctd, ctud = blocks.ctu, blocks.ctd, blocks.ctud

local function new_bed()
  return {
    valve = false, empty = false, portions = 0,
    settled = blocks.timer(), spray = blocks.timer(), drain = blocks.timer(),
    pressed = blocks.edge(), closed = blocks.edge(),
    strokes = blocks.counter(), left = blocks.counter(), store = blocks.up_down_counter(),
  }
end

local function serve(bed, now, dry, request, flow, refill)
  local spray, drain, left, strokes, store = bed.spray, bed.drain, bed.left, bed.strokes, bed.store
  ton(bed.settled, now, dry, 120)
  r_trig(bed.pressed, request)
  tp(spray, now, bed.settled.q or bed.pressed.q, 250)
  tof(drain, now, spray.q, 90)
  local valve = drain.q and not left.q
  bed.valve = valve
  local closed = bed.closed
  f_trig(closed, valve)
  ctu(strokes, flow and valve, strokes.q, 5)
  ctd(left, closed.q, refill, 12)
  ctud(store, refill, closed.q, false, strokes.q, 10)
  bed.empty = store.qd or left.q
  bed.portions = left.cv + store.cv
end

local beans, chard, dill, endive = new_bed(), new_bed(), new_bed(), new_bed()
local fennel, garlic, hops, kale = new_bed(), new_bed(), new_bed(), new_bed()
local rows, valves = {}, {}
for row = 1, 40 do
  rows[row] = new_bed()
end
for valve = 0, 47 do
  valves[valve] = false
end
local portions, empties = 0, 0

local function scan(now)
  serve(beans, now, inputs[0], inputs[8], inputs[16], inputs[24])
  valves[0] = beans.valve
  serve(chard, now, inputs[1], inputs[9], inputs[17], inputs[25])
  valves[1] = chard.valve
  serve(dill, now, inputs[2], inputs[10], inputs[18], inputs[26])
  valves[2] = dill.valve
  serve(endive, now, inputs[3], inputs[11], inputs[19], inputs[27])
  valves[3] = endive.valve
  serve(fennel, now, inputs[4], inputs[12], inputs[20], inputs[28])
  valves[4] = fennel.valve
  serve(garlic, now, inputs[5], inputs[13], inputs[21], inputs[29])
  valves[5] = garlic.valve
  serve(hops, now, inputs[6], inputs[14], inputs[22], inputs[30])
  valves[6] = hops.valve
  serve(kale, now, inputs[7], inputs[15], inputs[23], inputs[31])
  valves[7] = kale.valve

  portions, empties = 0, 0
  for row = 1, 40 do
    local one = rows[row]
    serve(one, now, inputs[row % 32], inputs[(row + 7) % 32], inputs[(row + 13) % 32], inputs[(row + 20) % 32])
    valves[row + 7] = one.valve
    portions = portions + one.portions
    if one.empty then
      empties = empties + 1
    end
  end
end

local function digest(sum)
  for first = 0, 47, 32 do
    local word = 0
    for valve = math.min(first + 31, 47), first, -1 do
      word = word * 2 + (valves[valve] and 1 or 0)
    end
    sum = fold(sum, word)
  end
  return fold(fold(sum, portions), empties)
end

return scan, digest
