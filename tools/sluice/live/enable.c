/* enable.c - `disable` leaves a load to orders by hand; `enable` lets it run by
 * itself again. */
#include <string.h>

#include "flag.h"

enum status enable_main(struct invocation *at, int argc, char *argv[])
{
    return flag_main(at, argc, argv, "enable", strcmp(argv[0], "enable") == 0, "a load's name");
}
