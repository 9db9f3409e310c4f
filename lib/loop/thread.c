/* thread.c - starting a thread.
 *
 * A signal that landed in a worker would break into its waiting, and a broken pipe in a
 * library's write would end the process. The stack is small, since it counts against the
 * process's limit of memory: none of our threads needs more. */
#include "loop/thread.h"

#include <signal.h>

enum { STACK_BYTES = 256 * 1024 };

bool thread_start(pthread_t *thread, void *(*run)(void *context), void *context)
{
    sigset_t all, before;
    pthread_attr_t attributes;
    sigfillset(&all);
    pthread_attr_init(&attributes);
    pthread_attr_setstacksize(&attributes, STACK_BYTES);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    int failed = pthread_create(thread, &attributes, run, context);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    pthread_attr_destroy(&attributes);
    return failed == 0;
}
