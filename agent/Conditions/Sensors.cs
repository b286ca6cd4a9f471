using Cardassay.Agent.Sysfs;
using Cardassay.Registers;
using Cardassay.Trials;
using Facts = Cardassay.Trials.Conditions;

namespace Cardassay.Agent.Conditions;

/// <summary>
/// The board's temperature, supply and throttling sensors: `/sys/class/thermal` and `/sys/class/hwmon` (Linux,
/// Documentation/hwmon/sysfs-interface.rst, Documentation/driver-api/thermal/sysfs-api.rst). Looked up once, read each time.
/// </summary>
internal sealed class Sensors
{
    // These drivers ask a disk for its temperature with a command; no sample may touch a disk.
    private static readonly string[] DiskDrivers = ["drivetemp", "nvme", "ufs"];

    private readonly SysfsTree _tree;
    private readonly List<(string Name, string File)> _temperatures = [];
    private readonly List<string> _supplyAlarms = [];
    private readonly List<string> _throttles = [];

    public Sensors(SysfsTree tree)
    {
        _tree = tree;
        FindThermal();
        FindHardwareMonitors();
        _temperatures = [.. _temperatures.GroupBy(t => t.Name).SelectMany(Distinguish).OrderBy(t => t.Name, StringComparer.Ordinal)];
    }

    /// <summary>Every temperature that can be read now; a sensor that fails is named in <paramref name="failed"/>.</summary>
    public IReadOnlyList<TemperatureReading> Temperatures(IDictionary<string, string> failed)
    {
        var found = new List<TemperatureReading>(_temperatures.Count);
        foreach ((string name, string file) in _temperatures)
        {
            Reading<long> value = TextFile.ReadNumber(_tree, file);
            if (value.IsKnown)
            {
                found.Add(new TemperatureReading(name, value.Value));
            }
            else if (value.State == ReadingState.Unreadable)
            {
                failed[$"Temperatures/{name}"] = value.Reason!;
            }
        }

        return found;
    }

    /// <summary>Whether a supply voltage is or was below its critical value.</summary>
    public bool? UnderVoltage(IDictionary<string, string> failed) => AnyRaised(_supplyAlarms, nameof(Facts.UnderVoltage), failed);

    /// <summary>Whether a processor or memory cooling device holds its frequency down.</summary>
    public bool? Throttled(IDictionary<string, string> failed) => AnyRaised(_throttles, nameof(Facts.Throttled), failed);

    private bool? AnyRaised(List<string> files, string property, IDictionary<string, string> failed)
    {
        bool? raised = null;
        foreach (string file in files)
        {
            Reading<long> value = TextFile.ReadNumber(_tree, file);
            if (value.IsKnown)
            {
                raised = (raised ?? false) || value.Value > 0;
            }
            else if (value.State == ReadingState.Unreadable)
            {
                failed[property] = value.Reason!;
            }
        }

        return raised;
    }

    private void FindThermal()
    {
        foreach (string name in _tree.Names("sys/class/thermal"))
        {
            string folder = $"sys/class/thermal/{name}";
            string? type = TextFile.Read(_tree, $"{folder}/type").Value;
            if (name.StartsWith("thermal_zone", StringComparison.Ordinal))
            {
                _temperatures.Add((type ?? name, $"{folder}/temp"));
            }
            else if (type is not null && IsFrequencyLimit(type))
            {
                _throttles.Add($"{folder}/cur_state");
            }
        }
    }

    // drivers/thermal/{cpufreq,devfreq}_cooling.c and drivers/acpi/processor_thermal.c; a fan that turns is no throttling.
    private static bool IsFrequencyLimit(string type) =>
        type.StartsWith("cpufreq-", StringComparison.Ordinal) || type.StartsWith("thermal-cpufreq", StringComparison.Ordinal)
        || type.StartsWith("devfreq-", StringComparison.Ordinal) || type.StartsWith("thermal-devfreq", StringComparison.Ordinal)
        || type == "Processor";

    private void FindHardwareMonitors()
    {
        foreach (string name in _tree.Names("sys/class/hwmon"))
        {
            string folder = $"sys/class/hwmon/{name}";
            string chip = TextFile.Read(_tree, $"{folder}/name").Value ?? name;
            if (DiskDrivers.Contains(chip))
            {
                continue;
            }

            foreach (string file in _tree.Names(folder))
            {
                if (file.StartsWith("temp", StringComparison.Ordinal) && file.EndsWith("_input", StringComparison.Ordinal))
                {
                    string channel = file[..^"_input".Length];
                    _temperatures.Add(($"{chip}/{TextFile.Read(_tree, $"{folder}/{channel}_label").Value ?? channel}", $"{folder}/{file}"));
                }
                else if (file.StartsWith("in", StringComparison.Ordinal)
                    && (file.EndsWith("_lcrit_alarm", StringComparison.Ordinal) || file.EndsWith("_min_alarm", StringComparison.Ordinal)))
                {
                    _supplyAlarms.Add($"{folder}/{file}");
                }
            }
        }
    }

    private static IEnumerable<(string Name, string File)> Distinguish(IGrouping<string, (string Name, string File)> same) =>
        same.Count() == 1 ? same : same.Select(t => ($"{t.Name} ({t.File.Split('/')[3]})", t.File));
}
