/* jobs.h - questions to the buses on their way, and whose answers they are. */
#ifndef SLUICE_DAEMON_JOBS_H
#define SLUICE_DAEMON_JOBS_H

#include "site.h"

enum {
    /* ids of bus jobs: meters below, then the outputs' two ranges */
    JOB_METERS = 0,
    JOB_OUTPUTS = 0x10000,
    JOB_RETIRED = 0x20000,
    JOB_ID_MASK = 0xffffff,
};

/* A job's id carries its bus and the generation of buses that it was posted to, so
 * that an answer of buses that a reload has replaced is known as such. */
static inline uint8_t job_bus(uint32_t id)
{
    return (id >> 24) & 0xf;
}

static inline uint8_t job_generation(uint32_t id)
{
    return (uint8_t)(id >> 28);
}

/* False: the bus has too much to do already. */
bool job_post(struct site *site, uint8_t bus_index, const struct bus_job *job);

/* Takes the bus out of the answer's id. True: it is of the present buses, and is
 * counted as no longer under way. */
bool job_take(struct site *site, struct bus_answer *answer);

/* What the outputs need of the site. */
struct output_doors job_doors(struct site *site);

#endif
