/* inhibit.c - `inhibit` keeps a load off whatever else; `allow` lifts that. */
#include <string.h>

#include "flag.h"

enum status inhibit_main(struct invocation *at, int argc, char *argv[])
{
    return flag_main(at, argc, argv, "inhibit", strcmp(argv[0], "inhibit") == 0,
                     "a load's name, or \"all\"");
}
