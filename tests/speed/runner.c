/* Runs the scans of one workload and prints the checksum of its outputs: as a program of its own, or as a module of
   WebAssembly whose export `run` takes the number of scans and gives the checksum. */

#include "workload.h"

enum { STEPS = 4096, FOLDED = 64 };

uint32_t inputs;
int64_t now_ms;

/* Which input bit changes in which scan. */
static uint8_t toggles[STEPS];

/* Park and Miller's generator (1988) with the multiplier 48271. */
static void make_toggles(void) {
    uint64_t seed = 20261;
    for (int step = 0; step < STEPS; step++) {
        seed = seed * 48271 % 2147483647;
        toggles[step] = seed % 32;
    }
}

uint32_t run(uint32_t scans) {
    uint32_t sum = 1;
    make_toggles();
    for (uint32_t done = 0; done < scans; done++) {
        inputs ^= UINT32_C(1) << toggles[done % STEPS];
        scan();
        now_ms += 10;
        if (done % FOLDED == FOLDED - 1)
            sum = digest(sum);
    }
    return sum;
}

#ifndef __wasm__
#include <stdio.h>
#include <stdlib.h>

int main(int count, char **arguments) {
    if (count != 2) {
        fprintf(stderr, "wanted: a number of scans\n");
        return 2;
    }
    printf("checksum %08x\n", (unsigned)run((uint32_t)strtoul(arguments[1], NULL, 10)));
    return 0;
}
#endif
