/* chip.h - a GPIO chip that stands in for libgpiod: the levels of its lines, and what was asked
 * of them. */
#ifndef SLUICE_TESTS_INPUT_CHIP_H
#define SLUICE_TESTS_INPUT_CHIP_H

#include <stdbool.h>

enum { CHIP_LINES = 8 };

struct chip {
    int level[CHIP_LINES]; /* -1: it cannot be read */
    int flags[CHIP_LINES]; /* as requested */
    bool requested[CHIP_LINES], as_output;
    int open; /* chips opened and not closed */
};
extern struct chip chip;

#endif
