#include "workload.h"

static double limit(double low, double value, double high) {
    if (value < low)
        return low;
    return value > high ? high : value;
}

static double scaled(int16_t raw, double low, double high) { return low + raw * (high - low) / 4095.0; }

struct pid {
    double gain, integration, derivation, cycle;
    double output, sum, before, slope;
    bool at_limit;
};

static void pid(struct pid *loop, double wanted, double measured, bool manual, double by_hand) {
    double deviation = wanted - measured;
    if (manual) {
        loop->sum = by_hand;
        loop->slope = 0.0;
        loop->output = by_hand;
    } else {
        loop->slope = loop->slope + ((loop->before - measured) / loop->cycle - loop->slope) * 0.1;
        double output = loop->gain * (deviation + loop->derivation * loop->slope) + loop->sum;
        if (output > 100.0 || output < 0.0) {
            loop->at_limit = true;
        } else {
            loop->at_limit = false;
            loop->sum = limit(0.0, loop->sum + loop->gain * deviation * loop->cycle / loop->integration, 100.0);
        }
        loop->output = limit(0.0, output, 100.0);
    }
    loop->before = measured;
}

static struct pid loops[64];
static int16_t raw[64], valves[64];
static double warmth[64];
static int32_t limited;
static bool ready;

void scan(void) {
    if (!ready) {
        for (int zone = 0; zone < 64; zone++)
            loops[zone] = (struct pid){.gain = 6.0, .integration = 40.0, .derivation = 0.5, .cycle = 0.01};
        ready = true;
    }
    double base = 12.0 + (inputs & 255) * 0.03125;
    limited = 0;
    for (int zone = 0; zone < 64; zone++) {
        struct pid *loop = &loops[zone];
        double measured = scaled(raw[zone], -10.0, 50.0);
        pid(loop, base + zone * 0.125, measured, input(8 + zone % 8), 35.0);
        valves[zone] = (int16_t)(loop->output * 40.95);
        if (loop->at_limit)
            limited++;

        double loss = 0.002;
        if (input(16 + zone % 8))
            loss = 0.0035;
        warmth[zone] = warmth[zone] + loop->output * 0.0008 - (warmth[zone] - 4.0) * loss;
        int16_t counts = (int16_t)((warmth[zone] + 10.0) * 68.25);
        raw[zone] = counts < 0 ? 0 : counts > 4095 ? 4095 : counts;
    }
}

uint32_t digest(uint32_t sum) {
    for (int zone = 0; zone < 64; zone += 2)
        sum = fold(sum, (uint32_t)valves[zone] | (uint32_t)valves[zone + 1] << 16);
    return fold(sum, (uint32_t)limited);
}
