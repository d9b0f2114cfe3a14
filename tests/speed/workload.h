/* What every workload written in C shares with the runner (runner.c).

   Before each scan the runner steps `inputs`, the 32 bits of the process image of inputs (bit n is %IX[n / 8].[n % 8]),
   and `now_ms`, the time of the scan. After every 64th scan it folds what `digest` returns into the checksum. */

#ifndef WORKLOAD_H
#define WORKLOAD_H

#include <stdbool.h>
#include <stdint.h>

extern uint32_t inputs;
extern int64_t now_ms;

/* One scan of the program. In a translation unit of its own, so that a compiler cannot merge two scans. */
void scan(void);

/* The outputs folded into `sum`, as 32-bit words in the order of their addresses. */
uint32_t digest(uint32_t sum);

static inline bool input(int bit) { return inputs >> bit & 1; }

static inline uint32_t fold(uint32_t sum, uint32_t word) { return sum * 69069u + word; }

#endif
