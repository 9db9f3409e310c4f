/* guess.c - orders of likelihood, and when a guess is settled.
 *
 * Meters leave the factory with 9600 baud without parity, or with the standard's 19200
 * and even parity (Serial Line V1.02, 2.5.1: 19200 and even are the defaults); the order
 * after these two is common practice, no source. */
#include "bus/guess.h"

enum {
    FRAMES_FOR_RIGHT = 4,
    EXCHANGES_FOR_RIGHT = 2,
    BYTES_FOR_WRONG = 400, /* in so many, a right line would have shown frames */
    NOISE_SHARE = 4,       /* a right line is less than a quarter noise */
};

static const struct {
    int32_t baud;
    uint8_t parity, stop_bits;
} lines[] = {
    {9600, PARITY_NONE, 1},   {19200, PARITY_EVEN, 1}, {9600, PARITY_EVEN, 1},
    {19200, PARITY_NONE, 1},  {2400, PARITY_NONE, 1},  {115200, PARITY_NONE, 1},
    {38400, PARITY_NONE, 1},  {57600, PARITY_NONE, 1}, {4800, PARITY_NONE, 1},
    {38400, PARITY_EVEN, 1},  {2400, PARITY_EVEN, 1},  {4800, PARITY_EVEN, 1},
    {115200, PARITY_EVEN, 1}, {57600, PARITY_EVEN, 1}, {9600, PARITY_ODD, 1},
    {19200, PARITY_ODD, 1},   {9600, PARITY_NONE, 2},  {19200, PARITY_NONE, 2},
    {38400, PARITY_ODD, 1},   {115200, PARITY_ODD, 1}, {1200, PARITY_NONE, 1},
    {1200, PARITY_EVEN, 1},
};

bool guess_line(unsigned number, struct bus_settings *settings)
{
    if (number >= sizeof lines / sizeof lines[0])
        return false;
    settings->baud = lines[number].baud;
    settings->parity = lines[number].parity;
    settings->stop_bits = lines[number].stop_bits;
    return true;
}

enum guess guess_judge(const struct listen_counts *counts)
{
    uint64_t exchanges = counts->kind[HEARD_ANSWERED] + counts->kind[HEARD_REFUSED];
    bool clean = counts->noise_bytes * NOISE_SHARE < counts->bytes;
    if (exchanges >= EXCHANGES_FOR_RIGHT || (counts->frames >= FRAMES_FOR_RIGHT && clean))
        return GUESS_RIGHT;
    return counts->noise_bytes >= BYTES_FOR_WRONG ? GUESS_WRONG : GUESS_MORE;
}

uint8_t guess_unit(unsigned number)
{
    static const uint8_t likely[GUESS_LIKELY_UNITS] = {1, 2, 3, 4, 5,  10,  11,  100,
                                                       6, 7, 8, 9, 20, 126, 240, 247};
    if (number < GUESS_LIKELY_UNITS)
        return likely[number];
    unsigned left = number - GUESS_LIKELY_UNITS;
    for (unsigned unit = 1; unit <= 247; unit++) {
        bool was = false;
        for (unsigned i = 0; i < GUESS_LIKELY_UNITS; i++)
            was |= likely[i] == unit;
        if (!was && left-- == 0)
            return (uint8_t)unit;
    }
    return 0;
}
