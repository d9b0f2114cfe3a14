local inputs, fold = ...
local blocks = require("blocks")
local r_trig, ton = blocks.r_trig, blocks.ton
local floor = math.floor

local function water(bed, now, request, full, stop)
  local step, wait = bed.step, bed.wait
  if stop and step > 0 and step < 40 then
    ton(wait, now, false, 0)
    step = 40
  end
  if step == 0 then
    bed.valve = false
    bed.pump = false
    if request and not full then
      step = 10
    end
  elseif step == 10 then
    bed.valve = true
    ton(wait, now, true, 50)
    if wait.q then
      ton(wait, now, false, 0)
      step = 20
    end
  elseif step == 20 then
    bed.pump = true
    ton(wait, now, true, 400)
    if full or wait.q then
      ton(wait, now, false, 0)
      step = 30
    end
  elseif step == 30 then
    bed.pump = false
    ton(wait, now, true, 80)
    if wait.q then
      ton(wait, now, false, 0)
      bed.runs = bed.runs + 1
      step = 0
    end
  elseif step == 40 then
    bed.pump = false
    bed.valve = false
    if not stop and not request then
      step = 0
    end
  else
    step = 40
  end
  bed.step = step
  if bed.runs >= 10000 then
    bed.runs = 0
  end
end

local function rinse(filter, start, pressure, clear)
  local step = filter.step
  if step ~= filter.entered then
    filter.since = 0
    filter.entered = step
  else
    filter.since = filter.since + 10
  end
  if step == 0 then
    filter.forward = false
    filter.backward = false
    filter.drain = false
    if start then
      filter.passes = 0
      filter.step = 1
    end
  elseif step == 1 then
    filter.drain = true
    if filter.since >= 60 then
      filter.step = 2
    end
  elseif step == 2 then
    filter.backward = true
    if filter.since >= 200 or not pressure then
      filter.step = 3
    end
  elseif step == 3 then
    filter.backward = false
    filter.forward = true
    if filter.since >= 120 then
      filter.step = 4
    end
  elseif step == 4 then
    filter.forward = false
    filter.passes = filter.passes + 1
    if clear or filter.passes >= 4 then
      filter.step = 5
    else
      filter.step = 2
    end
  elseif step == 5 then
    filter.drain = false
    if not start then
      filter.step = 0
    end
  end
end

local READY, WEIGHING, ADDING, STIRRING, SETTLING, FAILED = 0, 1, 2, 3, 4, 5

local function dose(doser, now, enable, tick, empty)
  local edge, wait, state = doser.edge, doser.wait, doser.state
  r_trig(edge, tick)
  if state == READY then
    doser.alarm = false
    if enable then
      doser.grams = 0
      doser.state = WEIGHING
    end
  elseif state == WEIGHING then
    if empty then
      doser.state = FAILED
    elseif edge.q then
      doser.grams = doser.grams + 3
    end
    if doser.grams >= 12 then
      doser.state = ADDING
    end
  elseif state == ADDING then
    doser.feed = true
    ton(wait, now, not wait.q, 70)
    if wait.q then
      doser.grams = doser.grams - 4
    end
    if doser.grams <= 0 then
      doser.feed = false
      doser.state = STIRRING
    end
  elseif state == STIRRING then
    doser.stirrer = true
    ton(wait, now, not wait.q, 300)
    if wait.q or not enable then
      doser.stirrer = false
      doser.state = SETTLING
    end
  elseif state == SETTLING then
    ton(wait, now, not wait.q, 150)
    if wait.q then
      doser.state = READY
    end
  elseif state == FAILED then
    doser.alarm = true
    doser.feed = false
    doser.stirrer = false
    if not empty and not enable then
      doser.state = READY
    end
  end
end

local function air(window, rain, wind, warmth)
  local wanted
  if warmth >= 0 and warmth <= 59 then
    wanted = 0
  elseif warmth >= 60 and warmth <= 99 then
    wanted = 20
  elseif warmth >= 100 and warmth <= 102 then
    wanted = 35
  elseif warmth >= 103 and warmth <= 149 then
    wanted = 40
  elseif warmth >= 150 and warmth <= 199 then
    wanted = 70
  else
    wanted = 100
  end
  if rain and wanted > 20 then
    wanted = 20
  end
  if wind then
    wanted = 0
  end
  local place = window.place
  window.opening = place < wanted
  window.closing = place > wanted
  if window.opening then
    window.place = place + 1
  elseif window.closing then
    window.place = place - 1
  end
end

local beds, filters, dosers, windows = {}, {}, {}, {}
local valves, drives, feeds = {}, {}, {}
for index = 0, 24 do
  beds[index] = { valve = false, pump = false, runs = 0, step = 0, wait = blocks.timer() }
  filters[index] = { forward = false, backward = false, drain = false, passes = 0, step = 0, entered = 0, since = 0 }
  dosers[index] = {
    feed = false, stirrer = false, alarm = false, grams = 0, state = READY, edge = blocks.edge(), wait = blocks.timer(),
  }
  windows[index] = { opening = false, closing = false, place = 0 }
  valves[index], drives[index], feeds[index] = false, false, false
end
local places, runs, passes, grams = 0, 0, 0, 0

local function scan(now, word)
  local warmth = floor(word / 16777216)
  places, runs, passes, grams = 0, 0, 0, 0
  for index = 0, 24 do
    local bed = beds[index]
    water(bed, now, inputs[index % 8], inputs[(index + 9) % 24], inputs[16] and inputs[17])
    valves[index] = bed.valve or bed.pump
    runs = runs + bed.runs

    local filter = filters[index]
    rinse(filter, inputs[(index + 3) % 24], inputs[(index + 11) % 24], inputs[18])
    drives[index] = filter.forward or filter.backward and filter.drain
    passes = passes + filter.passes

    local doser = dosers[index]
    dose(doser, now, inputs[(index + 5) % 24], inputs[(index + 13) % 24], inputs[19] and inputs[20])
    feeds[index] = doser.feed ~= doser.stirrer
    grams = grams + doser.grams

    local window = windows[index]
    air(window, inputs[21], inputs[22] and inputs[23], warmth - index)
    places = places + window.place
  end
end

local function fold_bits(sum, bits)
  local word = 0
  for index = 24, 0, -1 do
    word = word * 2 + (bits[index] and 1 or 0)
  end
  return fold(sum, word)
end

local function digest(sum)
  sum = fold_bits(fold_bits(fold_bits(sum, valves), drives), feeds)
  return fold(fold(fold(fold(sum, places), runs), passes), grams)
end

return scan, digest
