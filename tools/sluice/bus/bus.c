/* bus.c - `sluice bus listen` and `sluice bus scan`: what is on a serial line. */
#include "bus.h"

#include <string.h>

#include "sluice/help.h"

const char bus_help[] =
    "  listen PORT         what another master polls, with decoded values, live; at\n"
    "                      the end what of the map it never polls, and sections\n"
    "                      for the settings. The port is opened for reading alone:\n"
    "                      nothing can be sent\n"
    "    --baud N          else found by whole frames, as is the parity\n"
    "    --parity WORD     none, even or odd\n"
    "    --unit N          only polls of this unit\n"
    "    --map NAME        how to decode it; else found by its replies\n"
    "    --for TIME        how long; else until Ctrl-C\n"
    "    --exchanges N     or after so many\n"
    "  scan PORT           listens first, and stops if another master polls; then\n"
    "                      tries units, speeds and parities, the likely ones first.\n"
    "                      Prints the sections for the settings\n"
    "    --listen TIME     how long to listen first (30 s)\n"
    "    --answer TIME     how long a unit may take to begin its answer (300 ms)\n"
    "  --maps DIR          where meter maps (register lists, one file a model) are:\n"
    "                      without them values are not decoded and models not known\n"
    "                      (/etc/sluice/meters)\n"
    "\n"
    "Stop sluiced first where it uses the same port.\n";

enum status bus_main(struct invocation *at, int argc, char *argv[])
{
    const char *what = argc > 1 ? argv[1] : "";
    if (strcmp(what, "--help") == 0)
        return help_one(at, "bus");
    if (strcmp(what, "listen") != 0 && strcmp(what, "scan") != 0)
        return complain_usage(at, "bus");
    argv[1] = argv[0]; /* for help, both are one command */
    return strcmp(what, "listen") == 0 ? bus_listen(at, argc - 1, argv + 1)
                                       : bus_scan(at, argc - 1, argv + 1);
}
