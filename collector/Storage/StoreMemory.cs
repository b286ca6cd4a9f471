namespace Cardassay.Collector.Storage;

/// <summary>Remembers in the data folder where its results were put, so that every later command finds them.</summary>
internal static class StoreMemory
{
    /// <summary>The remembered choice; the file that lies there when nothing was remembered; null in a new folder.</summary>
    /// <exception cref="FormatException">The remembered text was changed by hand and is none.</exception>
    internal static StoreChoice? Read(string storeFolder, string databasePath)
    {
        string path = PathOf(storeFolder);
        if (!File.Exists(path))
        {
            return File.Exists(databasePath) ? StoreChoice.LiteDb : null;
        }

        try
        {
            return StoreChoice.Parse(File.ReadAllText(path).Trim());
        }
        catch (FormatException e)
        {
            throw new FormatException($"The file {path} says nothing usable of where the results are; correct or delete it. {e.Message}", e);
        }
    }

    /// <summary>Remembers a choice that has just been opened.</summary>
    internal static void Write(string storeFolder, StoreChoice choice)
    {
        string path = PathOf(storeFolder);
        if (File.Exists(path) && File.ReadAllText(path) == choice.Text + "\n")
        {
            return; // a full disk must not keep a collector from starting that has nothing new to remember
        }

        string next = path + ".new";
        File.WriteAllText(next, choice.Text + "\n");
        File.Move(next, path, overwrite: true);
    }

    /// <summary>The name under which this collector writes to a shared store; null when none is remembered.</summary>
    internal static string? ReadName(string storeFolder) => File.Exists(NamePath(storeFolder)) && File.ReadAllText(NamePath(storeFolder)).Trim() is { Length: 32 } name ? name : null;

    /// <summary>Remembers that name, which the log itself could no longer tell when its beginning is lost.</summary>
    internal static void WriteName(string storeFolder, string name)
    {
        if (ReadName(storeFolder) != name)
        {
            string next = NamePath(storeFolder) + ".new";
            File.WriteAllText(next, name + "\n");
            File.Move(next, NamePath(storeFolder), overwrite: true);
        }
    }

    private static string NamePath(string storeFolder) => Path.Combine(storeFolder, "log-name");

    private static string PathOf(string storeFolder) => Path.Combine(storeFolder, "choice");
}
