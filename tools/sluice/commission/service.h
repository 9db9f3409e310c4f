/* service.h - stopping the service, with a promise that it is started again. */
#ifndef SLUICE_TOOLS_SERVICE_H
#define SLUICE_TOOLS_SERVICE_H

#include <stdbool.h>
#include <sys/types.h>

struct service_guard {
    pid_t child;
    int pipe;
};

/* Whether the service manager runs it. */
bool service_is_active(void);

enum { SERVICE_STOPPED_MOST_MIN = 10 };

/* From here on the service is started when `service_start` is called or this process ends,
 * however it ends, and at the latest after that many minutes: somebody may have gone away from
 * a question. */
bool service_guard_begin(struct service_guard *guard);
bool service_stop(void);
/* False: it could not be started. */
bool service_start(struct service_guard *guard);

#endif
