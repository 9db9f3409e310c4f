/* world.h - a board and a broker that live in the test and obey as told. */
#ifndef SLUICE_TESTS_OUTPUT_WORLD_H
#define SLUICE_TESTS_OUTPUT_WORLD_H

#include "output/output.h"

enum { ADDRESSES = 8, POSTED_MAX = 64, JOB_BASE = 4096 };

/* How the board treats a write. READS_OFF obeys and says that it did not; RESTING: the bus leaves
 * it alone and sends nothing. */
enum manner { OBEYS, LIES, REFUSES, SILENT, HALVES, READS_OFF, RESTING };

struct world {
    struct outputs *outputs;
    struct mono now;
    enum manner manner;
    uint16_t value[ADDRESSES];
    struct bus_job posted[POSTED_MAX]; /* not yet answered, in order */
    size_t posted_count;
    struct bus_job written[POSTED_MAX]; /* every write, in order */
    size_t written_count, reads;
    bool broker, full;
    char topic[64], payload[64];
    size_t published;
};

struct output_settings a_coil(void);
struct output_settings a_topic(const char *state_topic);

struct output_doors world_doors(struct world *world);
struct world *world_new(struct output_settings settings);
void world_free(struct world *world);

/* Answers what was posted, and what that led to, until nothing is under way. */
bool settle(struct world *world);
bool pass(struct world *world, int64_t ms);
bool want(struct world *world, int32_t level_w, uint8_t stage);
bool report(struct world *world, const char *payload);
void assert_state(const struct world *world, enum output_health health, int32_t level_w);

#endif
