/* thread.h - a thread beside the loop: the one place where they are started. */
#ifndef SLUICE_LOOP_THREAD_H
#define SLUICE_LOOP_THREAD_H

#include <pthread.h>
#include <stdbool.h>

/* False: there is none to be had. The thread gets no signals: those are the loop's. */
bool thread_start(pthread_t *thread, void *(*run)(void *context), void *context);

#endif
