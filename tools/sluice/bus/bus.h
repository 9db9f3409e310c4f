/* bus.h - the sub-commands of `sluice bus`. */
#ifndef SLUICE_TOOLS_BUS_H
#define SLUICE_TOOLS_BUS_H

#include "sluice/subcommand.h"

extern const char bus_help[];

enum status bus_listen(struct invocation *at, int argc, char *argv[]);
enum status bus_scan(struct invocation *at, int argc, char *argv[]);

#endif
