/* status.h - everything that is known now. */
#ifndef SLUICE_DAEMON_STATUS_H
#define SLUICE_DAEMON_STATUS_H

#include "site.h"

char *status_text(struct site *site); /* JSON on one line; free it */

#endif
