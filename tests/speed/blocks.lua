-- The standard function blocks that the workloads use, as functions over a table. Times are in milliseconds.

local blocks = {}

function blocks.r_trig(trig, clk)
  trig.q = clk and not trig.before
  trig.before = clk
end

-- As the standard's body has it, a first call with FALSE is an edge too.
function blocks.f_trig(trig, clk)
  trig.q = not clk and not trig.before
  trig.before = not clk
end

function blocks.ton(timer, now, input, pt)
  if not input then
    timer.q = false
    timer.et = 0
  else
    if not timer.input then
      timer.start = now
    end
    local elapsed = now - timer.start
    timer.q = elapsed >= pt
    timer.et = timer.q and pt or elapsed
  end
  timer.input = input
end

function blocks.tof(timer, now, input, pt)
  if input then
    timer.q = true
    timer.et = 0
  else
    if timer.input then
      timer.start = now
    end
    if timer.q then
      local elapsed = now - timer.start
      timer.q = elapsed < pt
      timer.et = timer.q and elapsed or pt
    end
  end
  timer.input = input
end

function blocks.tp(timer, now, input, pt)
  if timer.q then
    timer.et = now - timer.start
    if timer.et >= pt then
      timer.et = pt
      timer.q = false
    end
  end
  if not timer.q and input and not timer.input then
    timer.start = now
    timer.et = 0
    timer.q = pt > 0
  end
  if not timer.q and not input then
    timer.et = 0
  end
  timer.input = input
end

function blocks.ctu(counter, cu, r, pv)
  if r then
    counter.cv = 0
  elseif cu and not counter.before and counter.cv < 32767 then
    counter.cv = counter.cv + 1
  end
  counter.before = cu
  counter.q = counter.cv >= pv
end

function blocks.ctd(counter, cd, ld, pv)
  if ld then
    counter.cv = pv
  elseif cd and not counter.before and counter.cv > -32768 then
    counter.cv = counter.cv - 1
  end
  counter.before = cd
  counter.q = counter.cv <= 0
end

function blocks.ctud(counter, cu, cd, r, ld, pv)
  local up, down = cu and not counter.up, cd and not counter.down
  if r then
    counter.cv = 0
  elseif ld then
    counter.cv = pv
  elseif up and not down and counter.cv < 32767 then
    counter.cv = counter.cv + 1
  elseif down and not up and counter.cv > -32768 then
    counter.cv = counter.cv - 1
  end
  counter.up = cu
  counter.down = cd
  counter.qu = counter.cv >= pv
  counter.qd = counter.cv <= 0
end

function blocks.edge()
  return { before = false, q = false }
end

function blocks.timer()
  return { input = false, q = false, start = 0, et = 0 }
end

function blocks.counter()
  return { before = false, q = false, cv = 0 }
end

function blocks.up_down_counter()
  return { up = false, down = false, qu = false, qd = false, cv = 0 }
end

return blocks
