#include "blocks.h"

struct watering {
    bool valve, pump;
    int16_t runs, step;
    struct ton wait;
};

static void water(struct watering *bed, bool request, bool full, bool stop) {
    if (stop && bed->step > 0 && bed->step < 40) {
        ton(&bed->wait, false, 0);
        bed->step = 40;
    }
    switch (bed->step) {
    case 0:
        bed->valve = false;
        bed->pump = false;
        if (request && !full)
            bed->step = 10;
        break;
    case 10:
        bed->valve = true;
        ton(&bed->wait, true, 50);
        if (bed->wait.q) {
            ton(&bed->wait, false, 0);
            bed->step = 20;
        }
        break;
    case 20:
        bed->pump = true;
        ton(&bed->wait, true, 400);
        if (full || bed->wait.q) {
            ton(&bed->wait, false, 0);
            bed->step = 30;
        }
        break;
    case 30:
        bed->pump = false;
        ton(&bed->wait, true, 80);
        if (bed->wait.q) {
            ton(&bed->wait, false, 0);
            bed->runs++;
            bed->step = 0;
        }
        break;
    case 40:
        bed->pump = false;
        bed->valve = false;
        if (!stop && !request)
            bed->step = 0;
        break;
    default:
        bed->step = 40;
    }
    if (bed->runs >= 10000)
        bed->runs = 0;
}

struct rinsing {
    bool forward, backward, drain;
    int16_t passes, step, entered;
    int64_t since;
};

static void rinse(struct rinsing *filter, bool start, bool pressure, bool clear) {
    if (filter->step != filter->entered) {
        filter->since = 0;
        filter->entered = filter->step;
    } else {
        filter->since += 10;
    }
    switch (filter->step) {
    case 0:
        filter->forward = false;
        filter->backward = false;
        filter->drain = false;
        if (start) {
            filter->passes = 0;
            filter->step = 1;
        }
        break;
    case 1:
        filter->drain = true;
        if (filter->since >= 60)
            filter->step = 2;
        break;
    case 2:
        filter->backward = true;
        if (filter->since >= 200 || !pressure)
            filter->step = 3;
        break;
    case 3:
        filter->backward = false;
        filter->forward = true;
        if (filter->since >= 120)
            filter->step = 4;
        break;
    case 4:
        filter->forward = false;
        filter->passes++;
        filter->step = clear || filter->passes >= 4 ? 5 : 2;
        break;
    case 5:
        filter->drain = false;
        if (!start)
            filter->step = 0;
        break;
    }
}

enum dosing_state { READY, WEIGHING, ADDING, STIRRING, SETTLING, FAILED };

struct dosing {
    bool feed, stirrer, alarm;
    int16_t grams;
    enum dosing_state state;
    struct r_trig edge;
    struct ton wait;
};

static void dose(struct dosing *doser, bool enable, bool tick, bool empty) {
    r_trig(&doser->edge, tick);
    switch (doser->state) {
    case READY:
        doser->alarm = false;
        if (enable) {
            doser->grams = 0;
            doser->state = WEIGHING;
        }
        break;
    case WEIGHING:
        if (empty)
            doser->state = FAILED;
        else if (doser->edge.q)
            doser->grams += 3;
        if (doser->grams >= 12)
            doser->state = ADDING;
        break;
    case ADDING:
        doser->feed = true;
        ton(&doser->wait, !doser->wait.q, 70);
        if (doser->wait.q)
            doser->grams -= 4;
        if (doser->grams <= 0) {
            doser->feed = false;
            doser->state = STIRRING;
        }
        break;
    case STIRRING:
        doser->stirrer = true;
        ton(&doser->wait, !doser->wait.q, 300);
        if (doser->wait.q || !enable) {
            doser->stirrer = false;
            doser->state = SETTLING;
        }
        break;
    case SETTLING:
        ton(&doser->wait, !doser->wait.q, 150);
        if (doser->wait.q)
            doser->state = READY;
        break;
    case FAILED:
        doser->alarm = true;
        doser->feed = false;
        doser->stirrer = false;
        if (!empty && !enable)
            doser->state = READY;
        break;
    }
}

struct airing {
    bool opening, closing;
    int16_t place;
};

static void air(struct airing *window, bool rain, bool wind, int16_t warmth) {
    int16_t wanted;
    if (warmth >= 0 && warmth <= 59)
        wanted = 0;
    else if (warmth >= 60 && warmth <= 99)
        wanted = 20;
    else if (warmth >= 100 && warmth <= 102)
        wanted = 35;
    else if (warmth >= 103 && warmth <= 149)
        wanted = 40;
    else if (warmth >= 150 && warmth <= 199)
        wanted = 70;
    else
        wanted = 100;
    if (rain && wanted > 20)
        wanted = 20;
    if (wind)
        wanted = 0;
    window->opening = window->place < wanted;
    window->closing = window->place > wanted;
    if (window->opening)
        window->place++;
    else if (window->closing)
        window->place--;
}

static struct watering beds[25];
static struct rinsing filters[25];
static struct dosing dosers[25];
static struct airing windows[25];
static bool valves[25], drives[25], feeds[25];
static int32_t places, runs, passes, grams;

void scan(void) {
    uint8_t warmth = inputs >> 24;
    places = runs = passes = grams = 0;
    for (int index = 0; index < 25; index++) {
        struct watering *bed = &beds[index];
        water(bed, input(index % 8), input((index + 9) % 24), input(16) && input(17));
        valves[index] = bed->valve || bed->pump;
        runs += bed->runs;

        struct rinsing *filter = &filters[index];
        rinse(filter, input((index + 3) % 24), input((index + 11) % 24), input(18));
        drives[index] = filter->forward || (filter->backward && filter->drain);
        passes += filter->passes;

        struct dosing *doser = &dosers[index];
        dose(doser, input((index + 5) % 24), input((index + 13) % 24), input(19) && input(20));
        feeds[index] = doser->feed != doser->stirrer;
        grams += doser->grams;

        air(&windows[index], input(21), input(22) && input(23), warmth - index);
        places += windows[index].place;
    }
}

static uint32_t fold_bits(uint32_t sum, const bool *bits) {
    uint32_t word = 0;
    for (int index = 0; index < 25; index++)
        word |= (uint32_t)bits[index] << index;
    return fold(sum, word);
}

uint32_t digest(uint32_t sum) {
    sum = fold_bits(fold_bits(fold_bits(sum, valves), drives), feeds);
    sum = fold(fold(sum, (uint32_t)places), (uint32_t)runs);
    return fold(fold(sum, (uint32_t)passes), (uint32_t)grams);
}
