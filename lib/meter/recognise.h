/* recognise.h - is the device that answers the one that a map describes?
 *
 * A fingerprint is what the maker put there to be known by (a meter code) where a
 * map lists it, and in any case voltages and a frequency that a mains supply can
 * have, read where the map says they stand. Reading only. Pure: the edge asks.
 *
 *     count = meter_fingerprint_reads(map, reads);
 *     ... read each; answer[i] = its registers, or NULL where it was refused ...
 *     meter_recognise(map, reads, answer, count, &recognition);
 */
#ifndef SLUICE_METER_RECOGNISE_H
#define SLUICE_METER_RECOGNISE_H

#include "meter/meter.h"

enum { RECOGNISE_READS_MAX = METER_MARKS_MAX + 4, RECOGNISE_WHY_MAX = 96 };

enum recognised {
    RECOGNISED_NOT,
    RECOGNISED_LIKELY, /* voltage and frequency can be true; no mark is listed, or it has none */
    RECOGNISED_SURE,   /* all marks are there, and nothing contradicts */
};

struct recognition {
    enum recognised verdict;
    uint8_t evidence; /* of two maps that fit, the one with more fits better */
    char
        why[RECOGNISE_WHY_MAX]; /* "mark 112 at 0xfc02, 3 voltages, 50.0 Hz", or what did not fit */
};

/* What to read, marks first, so that a wrong device is known by the first mismatch; 0: the map has
 * nothing to be known by. Each read is at most METER_BLOCK_REGISTERS_MAX registers. */
uint8_t meter_fingerprint_reads(const struct meter_map *map,
                                struct meter_block reads[static RECOGNISE_READS_MAX]);

/* `reads` and `count` as meter_fingerprint_reads gave them. `answers` may be shorter: judged
 * are the first `answered`, and the verdict is RECOGNISED_LIKELY until something contradicts, so a
 * caller may stop asking at the first RECOGNISED_NOT. A NULL answer is a refusal (an
 * exception): of a mark, which then isn't sure, or of what the map is made of, and then
 * the map is wrong. */
void meter_recognise(const struct meter_map *map, const struct meter_block reads[],
                     const uint16_t *const answers[], uint8_t answered,
                     struct recognition *recognition);

#endif
