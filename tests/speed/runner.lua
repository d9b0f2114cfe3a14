-- Runs the scans of one workload and prints the checksum of its outputs: lua5.4 runner.lua FOLDER NAME SCANS.
--
-- A workload is a file that gets `inputs`, the 32 bits of the process image of inputs as Booleans with the numbers 0 to
-- 31, and the function that folds a word into a sum. It returns its scan, which gets the time in milliseconds and the
-- inputs as one number, and the function that folds its outputs.

local folder, name, scans = arg[1], arg[2], tonumber(arg[3])
if not scans or scans % 64 ~= 0 then
  io.stderr:write("wanted: the folder, the workload, a number of scans that 64 divides\n")
  os.exit(2)
end

package.path = folder .. "/?.lua;" .. package.path

local STEPS, FOLDED = 4096, 64

-- Products stay below 2^53, so that they are exact where all numbers are floating-point.
local function fold(sum, word)
  return (sum * 69069 + word) % 4294967296
end

local inputs, weights = {}, {}
for bit = 0, 31 do
  inputs[bit] = false
  weights[bit] = math.floor(2 ^ bit)
end

-- Which input bit changes in which scan: Park and Miller's generator (1988) with the multiplier 48271.
local toggles, seed = {}, 20261
for step = 0, STEPS - 1 do
  seed = seed * 48271 % 2147483647
  toggles[step] = seed % 32
end

local scan, digest = assert(loadfile(folder .. "/" .. name .. "/" .. name .. ".lua"))(inputs, fold)
local sum, now, word, step = 1, 0, 0, 0
for _ = 1, scans / FOLDED do
  for _ = 1, FOLDED do
    local bit = toggles[step]
    step = step + 1
    if step == STEPS then
      step = 0
    end
    if inputs[bit] then
      inputs[bit] = false
      word = word - weights[bit]
    else
      inputs[bit] = true
      word = word + weights[bit]
    end
    scan(now, word)
    now = now + 10
  end
  sum = digest(sum)
end
print(string.format("checksum %08x", sum))
