#include "blocks.h"

struct bed {
    bool valve, empty;
    int16_t portions;
    struct ton settled;
    struct tp spray;
    struct tof drain;
    struct r_trig pressed;
    struct f_trig closed;
    struct ctu strokes;
    struct ctd left;
    struct ctud store;
};

static void bed(struct bed *bed, bool dry, bool request, bool flow, bool refill) {
    ton(&bed->settled, dry, 120);
    r_trig(&bed->pressed, request);
    tp(&bed->spray, bed->settled.q || bed->pressed.q, 250);
    tof(&bed->drain, bed->spray.q, 90);
    bed->valve = bed->drain.q && !bed->left.q;
    f_trig(&bed->closed, bed->valve);
    ctu(&bed->strokes, flow && bed->valve, bed->strokes.q, 5);
    ctd(&bed->left, bed->closed.q, refill, 12);
    ctud(&bed->store, refill, bed->closed.q, false, bed->strokes.q, 10);
    bed->empty = bed->store.qd || bed->left.q;
    bed->portions = bed->left.cv + bed->store.cv;
}

static struct bed beans, chard, dill, endive, fennel, garlic, hops, kale, rows[40];
static bool valves[48];
static int32_t portions, empties;

void scan(void) {
    bed(&beans, input(0), input(8), input(16), input(24));
    valves[0] = beans.valve;
    bed(&chard, input(1), input(9), input(17), input(25));
    valves[1] = chard.valve;
    bed(&dill, input(2), input(10), input(18), input(26));
    valves[2] = dill.valve;
    bed(&endive, input(3), input(11), input(19), input(27));
    valves[3] = endive.valve;
    bed(&fennel, input(4), input(12), input(20), input(28));
    valves[4] = fennel.valve;
    bed(&garlic, input(5), input(13), input(21), input(29));
    valves[5] = garlic.valve;
    bed(&hops, input(6), input(14), input(22), input(30));
    valves[6] = hops.valve;
    bed(&kale, input(7), input(15), input(23), input(31));
    valves[7] = kale.valve;

    portions = 0;
    empties = 0;
    for (int row = 1; row <= 40; row++) {
        struct bed *one = &rows[row - 1];
        bed(one, input(row % 32), input((row + 7) % 32), input((row + 13) % 32), input((row + 20) % 32));
        valves[row + 7] = one->valve;
        portions += one->portions;
        if (one->empty)
            empties++;
    }
}

uint32_t digest(uint32_t sum) {
    uint32_t words[2] = {0};
    for (int valve = 0; valve < 48; valve++)
        words[valve / 32] |= (uint32_t)valves[valve] << valve % 32;
    sum = fold(fold(sum, words[0]), words[1]);
    return fold(fold(sum, (uint32_t)portions), (uint32_t)empties);
}
