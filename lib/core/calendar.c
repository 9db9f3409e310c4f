#include "core/calendar.h"
