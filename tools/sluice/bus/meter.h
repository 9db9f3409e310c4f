/* meter.h - the sub-commands of `sluice meter`. */
#ifndef SLUICE_TOOLS_METER_H
#define SLUICE_TOOLS_METER_H

#include "sluice/subcommand.h"

enum status meter_check(struct invocation *at, int argc, char *argv[]);
enum status meter_read(struct invocation *at, int argc, char *argv[]);

extern const char meter_help[];

#endif
