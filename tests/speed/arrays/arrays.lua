-- Samples are quarters and their sums small, so that they are exact in REAL and in the numbers of Lua alike.
local _, fold = ...
local floor = math.floor

local samples, means, sorted, used, recipes = {}, {}, {}, {}, {}
for probe = 0, 15 do
  local row = {}
  for slot = 0, 15 do
    row[slot] = 0.0
  end
  samples[probe], means[probe], sorted[probe] = row, 0.0, 0.0
end
for zone = 0, 7 do
  local row = {}
  for slot = 0, 23 do
    row[slot] = 0
  end
  used[zone] = row
end
for number = 1, 20 do
  local parts = {}
  for part = 1, 6 do
    parts[part] = number * part % 11 + 1
  end
  recipes[number] = {
    number = number * 7 % 64, water = 10.0 + number * 0.5, feed = 0.25 * number, minutes = 5 + number % 4, parts = parts,
  }
end
local current = { number = 0, water = 0.0, feed = 0.0, minutes = 0, parts = { 0, 0, 0, 0, 0, 0 } }
local median, spread, grams, litres, busiest, hour, next_slot = 0, 0, 0, 0, 0, 0, 0

local function copy_recipe(target, source)
  target.number = source.number
  target.water = source.water
  target.feed = source.feed
  target.minutes = source.minutes
  local to, from = target.parts, source.parts
  for part = 1, 6 do
    to[part] = from[part]
  end
end

local function scan(_, word)
  local near, far, code = word % 256, floor(word / 256) % 256, floor(word / 65536) % 256

  for probe = 0, 15 do
    if probe % 2 == 0 then
      samples[probe][next_slot] = near * 0.25 - probe
    else
      samples[probe][next_slot] = far * 0.25 + probe * 2
    end
  end
  next_slot = (next_slot + 1) % 16

  for probe = 0, 15 do
    local row, sum = samples[probe], 0.0
    for slot = 0, 15 do
      sum = sum + row[slot]
    end
    means[probe] = sum / 16.0
  end

  for probe = 0, 15 do
    sorted[probe] = means[probe]
  end
  for index = 1, 15 do
    local value, place = sorted[index], index
    while place > 0 and sorted[place - 1] > value do
      sorted[place] = sorted[place - 1]
      place = place - 1
    end
    sorted[place] = value
  end
  median = floor((sorted[7] + sorted[8]) * 32.0 + 4096.0)
  spread = floor((sorted[15] - sorted[0]) * 64.0)

  local wanted = code % 64
  local index = 1
  while index < 20 and recipes[index].number ~= wanted do
    index = index + 1
  end
  copy_recipe(current, recipes[index])
  grams = 0
  local parts = current.parts
  for part = 1, 6 do
    grams = grams + parts[part] * floor(current.water * 4.0 + current.feed * 8.0)
  end

  local row = used[wanted % 8]
  row[hour] = (row[hour] + current.minutes) % 1000
  litres = 0
  local greatest = -1
  for slot = 0, 23 do
    local sum = 0
    for zone = 0, 7 do
      sum = sum + used[zone][slot]
    end
    litres = litres + sum
    if sum > greatest then
      greatest = sum
      busiest = slot
    end
  end
  hour = (hour + 1) % 24
end

local function digest(sum)
  sum = fold(sum, median + spread * 65536)
  sum = fold(fold(sum, grams), litres)
  return fold(sum, busiest + hour * 65536)
end

return scan, digest
