local _, fold = ...
local floor, find, sub, tostring = math.floor, string.find, string.sub, tostring

local log = {}
for bed = 1, 48 do
  log[bed] = ""
end
local greatest, bed = "", 0
local changes, letters, orders, colon, comma = 0, 0, 0, 0, 0

local function scan(_, word)
  bed = bed % 48 + 1
  local share = floor(word % 256 * 100 / 255)
  local state
  if share < 30 then
    state = "dry"
  elseif share < 70 then
    state = "moist"
  else
    state = "wet"
  end

  local text = "Bed " .. tostring(bed)
  text = text .. ": "
  text = text .. state
  local line = text .. ", " .. tostring(share) .. " %, "
  line = line .. tostring(floor(floor(word / 256) % 256 / 4) - 10) .. " deg"

  colon = find(line, ":", 1, true)
  comma = find(line, ", ", 1, true)
  local name = sub(line, 1, colon - 1)
  local rest = sub(line, colon + 2, #line)
  letters = letters + #name + #rest
  if name == "Bed 17" or rest == "dry, 0 %, -10 deg" then
    letters = letters + 1000
  end

  if line ~= log[bed] then
    changes = changes + 1
    log[bed] = line
  end
  if line > greatest then
    greatest = line
    orders = orders + #line
  elseif bed == 48 then
    greatest = ""
  end
  if log[bed] < log[49 - bed] then
    orders = orders + 1
  end
end

local function digest(sum)
  sum = fold(fold(sum, changes), letters)
  return fold(fold(sum, orders), colon + comma * 65536)
end

return scan, digest
