#include "blocks.h"

/* Globals of all programs. */
static int32_t flow[8], hours;
static float level[4];
static bool demand[4], stopped;
static int16_t lead;

/* Outputs. */
static bool valves[4], lamp, motors[3];
static int16_t highest;
static int32_t strokes, running;

static void flow_meters(void) {
    static bool before[8];
    for (int index = 0; index < 8; index++) {
        bool contact = input(index);
        if (contact && !before[index])
            flow[index]++;
        before[index] = contact;
    }
}

static void emergency_stop(void) {
    static struct r_trig pressed;
    r_trig(&pressed, input(10));
    stopped = (stopped || (input(8) && input(9))) && !pressed.q;
    lamp = stopped;
}

static void tank_levels(void) {
    float most = 0.0f;
    for (int tank = 0; tank < 4; tank++) {
        uint8_t raw = inputs >> (16 + tank % 2 * 8);
        level[tank] = (float)raw * 0.5f + (float)tank * 8.0f;
        if (demand[tank])
            demand[tank] = level[tank] < 110.0f;
        else
            demand[tank] = level[tank] < 60.0f;
        valves[tank] = demand[tank];
        if (level[tank] > most)
            most = level[tank];
    }
    highest = (int16_t)(most * 2.0f);
}

static void pump_rota(void) {
    static struct ton wait;
    int wanted = 0;
    for (int index = 0; index < 4; index++)
        if (demand[index])
            wanted++;
    ton(&wait, wanted > 0 && !wait.q, 300);
    if (wait.q)
        lead = (lead + 1) % 3;
    for (int index = 0; index < 3; index++) {
        motors[index] = (index + lead) % 3 < wanted && !stopped;
        if (motors[index])
            hours++;
    }
}

static void daily_sums(void) {
    int32_t sum = 0;
    for (int index = 0; index < 8; index++) {
        sum += flow[index] * (index + 1);
        if (flow[index] >= 10000)
            flow[index] = 0;
    }
    strokes = sum;
    running = hours;
    hours %= 1000000;
}

/* What is due, in the order of priority; the first scan releases all. */
void scan(void) {
    static int64_t control, change, sums;
    flow_meters();
    emergency_stop();
    if (now_ms >= control) {
        control += 20;
        tank_levels();
    }
    if (now_ms >= change) {
        change += 50;
        pump_rota();
    }
    if (now_ms >= sums) {
        sums += 1000;
        daily_sums();
    }
}

uint32_t digest(uint32_t sum) {
    uint32_t word = (uint32_t)lamp << 7 | (uint32_t)(uint16_t)highest << 16;
    for (int index = 0; index < 4; index++)
        word |= (uint32_t)valves[index] << index;
    for (int index = 0; index < 3; index++)
        word |= (uint32_t)motors[index] << (8 + index);
    return fold(fold(fold(sum, word), (uint32_t)strokes), (uint32_t)running);
}
