local inputs, fold = ...
local pump = false

local function scan()
  pump = (inputs[0] or pump) and not inputs[1]
end

local function digest(sum)
  return fold(sum, pump and 1 or 0)
end

return scan, digest
