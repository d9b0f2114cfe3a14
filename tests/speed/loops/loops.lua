local inputs, fold = ...
local floor = math.floor

local function limit(low, value, high)
  if value < low then
    return low
  elseif value > high then
    return high
  end
  return value
end

local function scaled(raw, low, high)
  return low + raw * (high - low) / 4095.0
end

local function pid(loop, wanted, measured, manual, by_hand)
  local deviation = wanted - measured
  if manual then
    loop.sum = by_hand
    loop.slope = 0.0
    loop.output = by_hand
  else
    local slope = loop.slope
    slope = slope + ((loop.before - measured) / loop.cycle - slope) * 0.1
    loop.slope = slope
    local output = loop.gain * (deviation + loop.derivation * slope) + loop.sum
    if output > 100.0 or output < 0.0 then
      loop.at_limit = true
    else
      loop.at_limit = false
      loop.sum = limit(0.0, loop.sum + loop.gain * deviation * loop.cycle / loop.integration, 100.0)
    end
    loop.output = limit(0.0, output, 100.0)
  end
  loop.before = measured
end

local loops, raw, warmth, valves, limited = {}, {}, {}, {}, 0
for zone = 0, 63 do
  loops[zone] = {
    gain = 6.0, integration = 40.0, derivation = 0.5, cycle = 0.01,
    output = 0.0, sum = 0.0, before = 0.0, slope = 0.0, at_limit = false,
  }
  raw[zone], warmth[zone], valves[zone] = 0, 0.0, 0
end

local function scan(_, word)
  local base = 12.0 + word % 256 * 0.03125
  limited = 0
  for zone = 0, 63 do
    local loop = loops[zone]
    local measured = scaled(raw[zone], -10.0, 50.0)
    pid(loop, base + zone * 0.125, measured, inputs[8 + zone % 8], 35.0)
    valves[zone] = floor(loop.output * 40.95)
    if loop.at_limit then
      limited = limited + 1
    end

    local loss = 0.002
    if inputs[16 + zone % 8] then
      loss = 0.0035
    end
    local heat = warmth[zone]
    heat = heat + loop.output * 0.0008 - (heat - 4.0) * loss
    warmth[zone] = heat
    -- It never falls below 4 degrees, so that floor is truncation.
    raw[zone] = limit(0, floor((heat + 10.0) * 68.25), 4095)
  end
end

local function digest(sum)
  for zone = 0, 63, 2 do
    sum = fold(sum, valves[zone] + valves[zone + 1] * 65536)
  end
  return fold(sum, limited)
end

return scan, digest
