/* The standard function blocks that the workloads use, as functions over a structure. Times are in milliseconds. */

#ifndef BLOCKS_H
#define BLOCKS_H

#include "workload.h"

struct r_trig { bool before, q; };

static inline void r_trig(struct r_trig *trig, bool clk) {
    trig->q = clk && !trig->before;
    trig->before = clk;
}

/* As the standard's body has it, a first call with FALSE is an edge too. */
struct f_trig { bool before, q; };

static inline void f_trig(struct f_trig *trig, bool clk) {
    trig->q = !clk && !trig->before;
    trig->before = !clk;
}

struct ton { bool in, q; int64_t start, et; };

static inline void ton(struct ton *timer, bool in, int64_t pt) {
    if (!in) {
        timer->q = false;
        timer->et = 0;
    } else {
        if (!timer->in)
            timer->start = now_ms;
        int64_t elapsed = now_ms - timer->start;
        timer->q = elapsed >= pt;
        timer->et = timer->q ? pt : elapsed;
    }
    timer->in = in;
}

struct tof { bool in, q; int64_t start, et; };

static inline void tof(struct tof *timer, bool in, int64_t pt) {
    if (in) {
        timer->q = true;
        timer->et = 0;
    } else {
        if (timer->in)
            timer->start = now_ms;
        if (timer->q) {
            int64_t elapsed = now_ms - timer->start;
            timer->q = elapsed < pt;
            timer->et = timer->q ? elapsed : pt;
        }
    }
    timer->in = in;
}

struct tp { bool in, q; int64_t start, et; };

static inline void tp(struct tp *timer, bool in, int64_t pt) {
    if (timer->q) {
        timer->et = now_ms - timer->start;
        if (timer->et >= pt) {
            timer->et = pt;
            timer->q = false;
        }
    }
    if (!timer->q && in && !timer->in) {
        timer->start = now_ms;
        timer->et = 0;
        timer->q = pt > 0;
    }
    if (!timer->q && !in)
        timer->et = 0;
    timer->in = in;
}

struct ctu { bool before, q; int16_t cv; };

static inline void ctu(struct ctu *counter, bool cu, bool r, int16_t pv) {
    if (r)
        counter->cv = 0;
    else if (cu && !counter->before && counter->cv < INT16_MAX)
        counter->cv++;
    counter->before = cu;
    counter->q = counter->cv >= pv;
}

struct ctd { bool before, q; int16_t cv; };

static inline void ctd(struct ctd *counter, bool cd, bool ld, int16_t pv) {
    if (ld)
        counter->cv = pv;
    else if (cd && !counter->before && counter->cv > INT16_MIN)
        counter->cv--;
    counter->before = cd;
    counter->q = counter->cv <= 0;
}

struct ctud { bool up, down, qu, qd; int16_t cv; };

static inline void ctud(struct ctud *counter, bool cu, bool cd, bool r, bool ld, int16_t pv) {
    bool up = cu && !counter->up, down = cd && !counter->down;
    if (r)
        counter->cv = 0;
    else if (ld)
        counter->cv = pv;
    else if (up && !down && counter->cv < INT16_MAX)
        counter->cv++;
    else if (down && !up && counter->cv > INT16_MIN)
        counter->cv--;
    counter->up = cu;
    counter->down = cd;
    counter->qu = counter->cv >= pv;
    counter->qd = counter->cv <= 0;
}

#endif
