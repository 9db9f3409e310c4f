/* status.h - the site as it stands, gathered for those who tell of it (lib/values). */
#ifndef SLUICE_DAEMON_STATUS_H
#define SLUICE_DAEMON_STATUS_H

#include "inputs.h"
#include "values/values.h"

struct site;

/* What topics need; points into the site, and holds for this turn. */
struct values_view status_view(const struct site *site);

char *status_text(const struct site *site); /* JSON on one line; free it */

/* What was last read of a meter, in thousandths of its quantities' units and by the words of
 * map files. NULL: there is no meter of that name. */
char *status_meter_text(const struct inputs *inputs, const struct common *common, const char *name);

#endif
