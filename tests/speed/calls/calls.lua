local inputs, fold = ...
local floor = math.floor

local function clamped(low, value, high)
  if value < low then
    return low
  elseif value > high then
    return high
  end
  return value
end

local function share(part, whole)
  if whole <= 0 then
    return 0
  end
  return clamped(0, floor(part * 100 / whole), 100)
end

local Pump = {}
Pump.__index = Pump

function Pump.new(most)
  return setmetatable({ hours = 0, speed = 0, most = most }, Pump)
end

function Pump:serve(load, allowed)
  local speed
  if allowed then
    speed = self:ramp(clamped(0, load, self.most))
  else
    speed = self:ramp(0)
  end
  self.speed = speed
  if speed > 0 then
    self.hours = self.hours + 1
    if self.hours >= 100000 then
      self.hours = 0
    end
  end
  return speed
end

function Pump:wear()
  return self.hours * 2
end

function Pump:ramp(goal)
  return self.speed + clamped(-3, goal - self.speed, 2)
end

local PumpPair = setmetatable({}, { __index = Pump })
PumpPair.__index = PumpPair

function PumpPair.new(most)
  return setmetatable({ hours = 0, speed = 0, most = most, second = 0 }, PumpPair)
end

function PumpPair:serve(load, allowed)
  local second = 0
  if load > 60 then
    second = clamped(0, load - 60, 40)
  end
  self.second = second
  return Pump.serve(self, load - second, allowed) + second
end

function PumpPair:wear()
  return Pump.wear(self) + self.second
end

function PumpPair:ramp(goal)
  return floor((self.speed + goal) / 2)
end

local Fan = {}
Fan.__index = Fan

function Fan.new()
  return setmetatable({ stage = 0, turns = 0 }, Fan)
end

function Fan:serve(load, allowed)
  local stage = floor(load / 34)
  if not allowed then
    stage = 0
  end
  self.stage = stage
  local turns = self.turns + stage
  if turns >= 100000 then
    turns = turns - 100000
  end
  self.turns = turns
  return stage * 33
end

function Fan:wear()
  return self.turns
end

local pumps, fans, devices = {}, {}, {}
for index = 0, 11 do
  pumps[index] = Pump.new(50 + index * 4)
  devices[index * 2] = pumps[index]
end
for index = 0, 5 do
  fans[index] = Fan.new()
  devices[index * 4 + 1] = PumpPair.new(60)
  devices[index * 4 + 3] = fans[index]
end
local worn, busy, percent, idle = 0, 0, 0, 0

local function scan(_, word)
  local level, warmth = floor(word / 65536) % 256, floor(word / 16777216)

  busy, idle = 0, 0
  for index = 0, 23 do
    local wanted
    if index % 4 == 3 then
      wanted = share(warmth, 255)
    else
      wanted = share(level + index, 255)
    end
    local given = devices[index]:serve(wanted, inputs[index % 16])
    if given == 0 then
      idle = idle + 1
    end
    busy = busy + given
  end

  worn = 0
  for index = 0, 23 do
    local wear = devices[index]:wear()
    if wear > worn then
      worn = wear
    end
  end
  percent = share(pumps[0]:serve(40, true), 50)
    + share(pumps[1]:serve(45, inputs[3]), 60)
    + fans[0]:serve(70, inputs[4])
end

local function digest(sum)
  return fold(fold(fold(sum, worn), busy), percent + idle * 65536)
end

return scan, digest
