/* jobs.h - independent pieces of work on both cores.
 *
 * Each job reads what the caller has prepared and gives back one plain value; it runs in
 * a process of its own making, so nothing that it changes elsewhere remains. */
#ifndef SLUICE_TRIAL_JOBS_H
#define SLUICE_TRIAL_JOBS_H

#include <stdbool.h>
#include <stddef.h>

enum { JOBS_RESULT_MAX = 4000 }; /* bytes: what a pipe takes whole */

/* Writes the result of job `index`. */
typedef void jobs_do(const void *context, int index, void *result);
typedef void jobs_progress(void *context, int done);

struct jobs {
    jobs_do *work;
    const void *context;
    size_t result_size;      /* <= JOBS_RESULT_MAX */
    int workers;             /* 0: as many as there are processors, at most two */
    jobs_progress *progress; /* called in the caller's process after each job; may be NULL */
    void *progress_context;
};

/* Fills results[count]. False: a worker died, or there is no memory; then some of the
 * results are missing. */
bool jobs_run(const struct jobs *jobs, int count, void *results);

#endif
