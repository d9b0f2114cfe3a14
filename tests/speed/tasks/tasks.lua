-- Levels are halves and small, so that they are exact in REAL and in the numbers of Lua alike.
local inputs, fold = ...
local blocks = require("blocks")
local floor = math.floor

local flow, level, demand, before, valves, motors = {}, {}, {}, {}, {}, {}
for index = 0, 7 do
  flow[index], before[index] = 0, false
end
for index = 0, 3 do
  level[index], demand[index], valves[index] = 0.0, false, false
end
for index = 0, 2 do
  motors[index] = false
end
local hours, lead, highest, strokes, running = 0, 0, 0, 0, 0
local stopped, lamp = false, false
local pressed, wait = blocks.edge(), blocks.timer()

local function flow_meters()
  for index = 0, 7 do
    local contact = inputs[index]
    if contact and not before[index] then
      flow[index] = flow[index] + 1
    end
    before[index] = contact
  end
end

local function emergency_stop()
  blocks.r_trig(pressed, inputs[10])
  stopped = (stopped or (inputs[8] and inputs[9])) and not pressed.q
  lamp = stopped
end

local raw = {}

local function tank_levels(word)
  raw[0], raw[1] = floor(word / 65536) % 256, floor(word / 16777216)
  local most = 0.0
  for tank = 0, 3 do
    local value = raw[tank % 2] * 0.5 + tank * 8.0
    level[tank] = value
    if demand[tank] then
      demand[tank] = value < 110.0
    else
      demand[tank] = value < 60.0
    end
    valves[tank] = demand[tank]
    if value > most then
      most = value
    end
  end
  highest = floor(most * 2.0)
end

local function pump_rota(now)
  local wanted = 0
  for index = 0, 3 do
    if demand[index] then
      wanted = wanted + 1
    end
  end
  blocks.ton(wait, now, wanted > 0 and not wait.q, 300)
  if wait.q then
    lead = (lead + 1) % 3
  end
  for index = 0, 2 do
    motors[index] = (index + lead) % 3 < wanted and not stopped
    if motors[index] then
      hours = hours + 1
    end
  end
end

local function daily_sums()
  local sum = 0
  for index = 0, 7 do
    sum = sum + flow[index] * (index + 1)
    if flow[index] >= 10000 then
      flow[index] = 0
    end
  end
  strokes = sum
  running = hours
  hours = hours % 1000000
end

local control, change, sums = 0, 0, 0

-- What is due, in the order of priority; the first scan releases all.
local function scan(now, word)
  flow_meters()
  emergency_stop()
  if now >= control then
    control = control + 20
    tank_levels(word)
  end
  if now >= change then
    change = change + 50
    pump_rota(now)
  end
  if now >= sums then
    sums = sums + 1000
    daily_sums()
  end
end

local function digest(sum)
  local word = (lamp and 128 or 0) + highest * 65536
  for index = 0, 3 do
    word = word + (valves[index] and 2 ^ index or 0)
  end
  for index = 0, 2 do
    word = word + (motors[index] and 2 ^ (8 + index) or 0)
  end
  return fold(fold(fold(sum, floor(word)), strokes), running)
end

return scan, digest
