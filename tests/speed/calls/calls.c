#include "workload.h"

/* Methods that a call finds by the type of the device. */
struct device;
struct methods {
    int16_t (*serve)(struct device *device, int16_t load, bool allowed);
    int32_t (*wear)(struct device *device);
    int16_t (*ramp)(struct device *device, int16_t goal);
};

struct device { const struct methods *methods; };
struct pump { struct device device; int32_t hours; int16_t speed, most; };
struct pump_pair { struct pump pump; int16_t second; };
struct fan { struct device device; int16_t stage; int32_t turns; };

static int16_t clamped(int16_t low, int16_t value, int16_t high) {
    if (value < low)
        return low;
    return value > high ? high : value;
}

static int16_t share(int16_t part, int16_t whole) {
    return whole <= 0 ? 0 : clamped(0, part * 100 / whole, 100);
}

static int16_t pump_serve(struct device *device, int16_t load, bool allowed) {
    struct pump *pump = (struct pump *)device;
    pump->speed = device->methods->ramp(device, allowed ? clamped(0, load, pump->most) : 0);
    if (pump->speed > 0) {
        pump->hours++;
        if (pump->hours >= 100000)
            pump->hours = 0;
    }
    return pump->speed;
}

static int32_t pump_wear(struct device *device) { return ((struct pump *)device)->hours * 2; }

static int16_t pump_ramp(struct device *device, int16_t goal) {
    int16_t speed = ((struct pump *)device)->speed;
    return speed + clamped(-3, goal - speed, 2);
}

static int16_t pair_serve(struct device *device, int16_t load, bool allowed) {
    struct pump_pair *pair = (struct pump_pair *)device;
    pair->second = load > 60 ? clamped(0, load - 60, 40) : 0;
    return pump_serve(device, load - pair->second, allowed) + pair->second;
}

static int32_t pair_wear(struct device *device) { return pump_wear(device) + ((struct pump_pair *)device)->second; }

static int16_t pair_ramp(struct device *device, int16_t goal) { return (((struct pump *)device)->speed + goal) / 2; }

static int16_t fan_serve(struct device *device, int16_t load, bool allowed) {
    struct fan *fan = (struct fan *)device;
    fan->stage = load / 34;
    if (!allowed)
        fan->stage = 0;
    fan->turns += fan->stage;
    if (fan->turns >= 100000)
        fan->turns -= 100000;
    return fan->stage * 33;
}

static int32_t fan_wear(struct device *device) { return ((struct fan *)device)->turns; }

static const struct methods pump_methods = {pump_serve, pump_wear, pump_ramp};
static const struct methods pair_methods = {pair_serve, pair_wear, pair_ramp};
static const struct methods fan_methods = {fan_serve, fan_wear, 0};

static struct pump pumps[12];
static struct pump_pair pairs[6];
static struct fan fans[6];
static struct device *devices[24];
static int32_t worn, busy;
static int16_t percent, idle;
static bool ready;

static void prepare(void) {
    for (int index = 0; index < 12; index++) {
        pumps[index].device.methods = &pump_methods;
        pumps[index].most = 50 + index * 4;
        devices[index * 2] = &pumps[index].device;
    }
    for (int index = 0; index < 6; index++) {
        pairs[index].pump.device.methods = &pair_methods;
        pairs[index].pump.most = 60;
        devices[index * 4 + 1] = &pairs[index].pump.device;
        fans[index].device.methods = &fan_methods;
        devices[index * 4 + 3] = &fans[index].device;
    }
}

void scan(void) {
    if (!ready) {
        prepare();
        ready = true;
    }
    uint8_t level = inputs >> 16, warmth = inputs >> 24;

    busy = 0;
    idle = 0;
    for (int index = 0; index < 24; index++) {
        int16_t wanted = index % 4 == 3 ? share(warmth, 255) : share(level + index, 255);
        int16_t given = devices[index]->methods->serve(devices[index], wanted, input(index % 16));
        if (given == 0)
            idle++;
        busy += given;
    }

    worn = 0;
    for (int index = 0; index < 24; index++) {
        int32_t wear = devices[index]->methods->wear(devices[index]);
        if (wear > worn)
            worn = wear;
    }
    percent = share(pump_serve(&pumps[0].device, 40, true), 50);
    percent += share(pump_serve(&pumps[1].device, 45, input(3)), 60);
    percent += fan_serve(&fans[0].device, 70, input(4));
}

uint32_t digest(uint32_t sum) {
    sum = fold(fold(sum, (uint32_t)worn), (uint32_t)busy);
    return fold(sum, (uint16_t)percent | (uint32_t)(uint16_t)idle << 16);
}
