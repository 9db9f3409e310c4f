/* start.h - how the site comes up, and how it goes. */
#ifndef SLUICE_DAEMON_START_H
#define SLUICE_DAEMON_START_H

#include "site.h"

/* Takes the settings over, also where it fails. */
bool site_start(struct site *site, struct settings *settings, struct trouble *trouble);
void site_stop(struct site *site);

#endif
