/* control.h - the Unix socket that `sluice` talks to. */
#ifndef SLUICE_DAEMON_CONTROL_H
#define SLUICE_DAEMON_CONTROL_H

#include "site.h"

bool control_open(struct site *site, struct trouble *trouble);
int control_accept(struct site *site); /* the new client's descriptor, or -1 */
void control_serve(struct site *site, int fd);
void control_close(struct site *site);

#endif
