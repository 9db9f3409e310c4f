/* espi_feed.h - what a feed says of itself: connection points, meter readings, their types
 * and the local time. Small, whatever the size of the file. */
#ifndef SLUICE_DAYS_ESPI_FEED_H
#define SLUICE_DAYS_ESPI_FEED_H

#include "days/format.h"

enum { ESPI_MAX = 64, ESPI_ID_SIZE = 64 };

struct espi_point {
    char id[ESPI_ID_SIZE], title[DAYS_NAME_SIZE];
    int32_t service; /* 0 electricity; -1: not said */
};

struct espi_type {
    char id[ESPI_ID_SIZE];
    int32_t flow, unit, power_of_ten, behaviour, interval_s; /* -1: not said; power: 0 */
};

struct espi_reading {
    char point[ESPI_ID_SIZE], id[ESPI_ID_SIZE], type[ESPI_ID_SIZE], title[DAYS_NAME_SIZE];
    size_t line;
};

struct espi_feed {
    struct espi_point point[ESPI_MAX];
    struct espi_type type[ESPI_MAX];
    struct espi_reading reading[ESPI_MAX];
    int point_count, type_count, reading_count;
    bool any_block, any_zone;
    int32_t zone_offset_s;
};

/* What the links of an Atom entry say. */
struct espi_links {
    char point[ESPI_ID_SIZE], reading[ESPI_ID_SIZE], type[ESPI_ID_SIZE];
};

/* Takes what a link has to say. False: an id of over 63 characters. */
bool espi_links_take(struct espi_links *links, const char *const *attributes);

/* Reads the file for that. False: a stop is in the report. */
bool espi_feed_read(const struct days_file *file, struct espi_feed *feed);

#endif
