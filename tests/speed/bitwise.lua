-- XOR and AND of bit strings, in the form that the running version of Lua has: operators, or a library of LuaJIT.

if _VERSION == "Lua 5.1" then
  local bit = require("bit")
  return { xor = bit.bxor, both = bit.band }
end
return assert(load([[
  return {
    xor = function(a, b) return a ~ b end,
    both = function(a, b) return a & b end,
  }
]]))()
