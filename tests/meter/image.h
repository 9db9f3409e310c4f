/* image.h - a device as registers in memory, some of which it refuses to give.
 *
 * Images are built by hand from the documented format, not recorded. */
#ifndef SLUICE_TESTS_METER_IMAGE_H
#define SLUICE_TESTS_METER_IMAGE_H

#include "meter/meter.h"
#include "meter/sunspec.h"

struct image {
    uint16_t word[65536];
    bool there[65536];
};

struct image *image_new(void);

void image_put(struct image *image, uint16_t address, uint16_t word);
void image_put_32(struct image *image, uint16_t address, uint32_t value); /* high word first */
void image_put_float(struct image *image, uint16_t address, float value); /* high word first */
void image_put_string(struct image *image, uint16_t address, uint16_t registers, const char *text);

/* NULL where any of the registers is not there. */
const uint16_t *image_read(const struct image *image, uint16_t address, uint16_t count);

/* Reads all blocks of the map's plan, as a round of polling does; the test fails
 * where the image refuses one. */
struct meter_sample image_sample(const struct image *image, const struct meter_map *map);

/* Walks until it is found or not; fails the test after 1000 questions. */
void image_walk(const struct image *image, struct sunspec_walk *walk);

#endif
