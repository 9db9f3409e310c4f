/* lines.h - the buses, the questions to them on their way, and how well they work. */
#ifndef SLUICE_DAEMON_LINES_H
#define SLUICE_DAEMON_LINES_H

#include "bus/bus.h"
#include "common.h"
#include "loop/mailbox.h"

enum {
    /* ids of bus jobs: meters below, then the outputs' two ranges, then the inputs */
    JOB_METERS = 0,
    JOB_OUTPUTS = 0x10000,
    JOB_RETIRED = 0x20000,
    JOB_INPUTS = 0x30000,
    JOB_LAMP = 0x40000,
    JOB_ID_MASK = 0xffffff,
};

struct lines {
    struct mailbox *answers; /* struct bus_answer */
    struct bus *buses[SETTINGS_BUSES_MAX];
    uint64_t progress[SETTINGS_BUSES_MAX]; /* as of the last turn */
    struct mono moved[SETTINGS_BUSES_MAX]; /* when it last ended a job, or had none */
    int bus_under_way[SETTINGS_BUSES_MAX];
    int under_way;      /* jobs posted and not yet answered */
    uint8_t generation; /* of the buses, 0..15 */

    struct bus_quality quality[SETTINGS_BUSES_MAX]; /* as of the last look */
    struct mono quality_due;
    struct {
        uint64_t before; /* questions of a master too many, when this window began */
        struct mono since;
        bool were_there; /* in the window before */
    } foreign[SETTINGS_BUSES_MAX];
};

/* Those that the settings name. */
bool lines_open(struct lines *lines, const struct common *common, struct trouble *trouble);

/* The buses there are go to `old`, whose answers are nobody's any more. */
void lines_give_up(struct lines *lines, struct bus *old[static SETTINGS_BUSES_MAX]);

/* False: the bus has too much to do already. */
bool job_post(struct lines *lines, uint8_t bus_index, const struct bus_job *job);

/* Takes the bus out of the answer's id. True: it is of the present buses, and is
 * counted as no longer under way. */
bool job_take(struct lines *lines, struct bus_answer *answer);

/* Reads the buses' counters when that is due, and says what is bad. */
void lines_look(struct lines *lines, struct common *common);

/* No worker is stuck. */
bool lines_all_move(struct lines *lines, const struct common *common);

#endif
