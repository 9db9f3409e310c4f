/* parallel.h - independent pieces of work on both cores.
 *
 * Each job reads what the caller has prepared and gives back one plain value; it runs in
 * a process of its own making, so nothing that it changes elsewhere remains. */
#ifndef SLUICE_QUOTE_PARALLEL_H
#define SLUICE_QUOTE_PARALLEL_H

#include <stdbool.h>
#include <stddef.h>

enum { PARALLEL_RESULT_MAX = 4000 }; /* bytes: what a pipe takes whole */

/* Writes the result of job `index`. */
typedef void parallel_do(const void *context, int index, void *result);
typedef void parallel_progress(void *context, int done);

struct parallel {
    parallel_do *work;
    const void *context;
    size_t result_size;          /* <= PARALLEL_RESULT_MAX */
    int workers;                 /* 0: as many as there are processors, at most two */
    parallel_progress *progress; /* called in the caller's process after each job; may be NULL */
    void *progress_context;
};

/* Fills results[count]. False: a worker died, or there is no memory; then some of the
 * results are missing. */
bool parallel_run(const struct parallel *jobs, int count, void *results);

#endif
