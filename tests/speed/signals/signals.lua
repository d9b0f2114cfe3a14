-- Values are sixteenths and small, so that they are exact in REAL and in the numbers of Lua alike. Bit operations have no
-- form that all versions of Lua share: `bitwise.lua` has each version's own.
local _, fold = ...
local bitwise = require("bitwise")
local xor, both = bitwise.xor, bitwise.both
local floor = math.floor

local points, status = {}, { [0] = 0, 0, 0 }
for index = 0, 47 do
  points[index] = {
    smooth = 0, offset = index * 0.5, value = 0.0, low = 40.0, high = 180.0, too_low = false, too_high = false, total = 0,
  }
end
local lamps, fresh, beats, news, volume = 1, 0, 0, 0, 0

local function watch(point, reading)
  local smooth = floor((point.smooth * 7 + reading * 16) / 8)
  local value = smooth * 0.0625 - point.offset
  point.smooth = smooth
  point.value = value
  if point.too_high then
    point.too_high = value > point.high - 2.0
  else
    point.too_high = value > point.high
  end
  if point.too_low then
    point.too_low = value < point.low + 2.0
  else
    point.too_low = value < point.low
  end
  if value > 0.0 and not point.too_high then
    local total = point.total + smooth
    if total >= 1000000 then
      total = total - 1000000
    end
    point.total = total
  end
end

local readings = {}

local function scan(_, word)
  for index = 0, 3 do
    readings[index] = word % 256
    word = floor(word / 256)
  end
  volume = 0
  for group = 0, 2 do
    local now = 0
    for bit = 0, 15 do
      local index = group * 16 + bit
      local point = points[index]
      watch(point, readings[index % 4])
      now = now * 2
      if point.too_high or point.too_low then
        now = now + 1
      end
      volume = volume + point.total
    end
    local before = status[group]
    status[group] = now
    if xor(now, before) ~= 0 then
      fresh = both(xor(now, before), now)
      if fresh ~= 0 then
        news = news + 1
      end
    end
  end
  lamps = lamps * 2
  if lamps >= 65536 then
    lamps = lamps - 65535
  end
  beats = beats + 1
  if beats == 60000 then
    beats = 0
  end
end

local function digest(sum)
  sum = fold(sum, status[0] + status[1] * 65536)
  sum = fold(sum, status[2] + lamps * 65536)
  sum = fold(fold(sum, news), volume)
  return fold(sum, fresh + beats * 65536)
end

return scan, digest
