#include "terms/decision.h"
