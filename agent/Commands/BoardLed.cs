namespace Cardassay.Agent.Commands;

/// <summary>
/// An LED of the board, as the kernel offers it (Linux, Documentation/leds/leds-class.rst): `brightness` and
/// `trigger` below /sys/class/leds/NAME.
/// </summary>
internal sealed class BoardLed
{
    private readonly string _folder;
    private readonly string _brightest;

    private BoardLed(string folder, string brightest) => (_folder, _brightest) = (folder, brightest);

    /// <summary>Takes an LED from whatever drives it, and turns it off.</summary>
    /// <param name="root">Root of the tree in which /sys is looked for.</param>
    /// <param name="name">Its name.</param>
    /// <exception cref="CommandException">There is no such LED, or it cannot be written.</exception>
    internal static BoardLed Take(string root, string name)
    {
        string all = Path.Combine(root, "sys/class/leds");
        string[] known = Directory.Exists(all)
            ? [.. Directory.EnumerateDirectories(all).Select(d => Path.GetFileName(d)).Order(StringComparer.Ordinal)]
            : [];
        if (!known.Contains(name))
        {
            throw new CommandException($"--led \"{name}\": this board has no such LED; "
                + $"{(known.Length == 0 ? "its kernel offers none" : $"it has {string.Join(", ", known)}")}.", 2);
        }

        string folder = Path.Combine(all, name);
        try
        {
            var led = new BoardLed(folder, File.ReadAllText(Path.Combine(folder, "max_brightness")).Trim());
            File.WriteAllText(Path.Combine(folder, "trigger"), "none");
            return led.Light(false) is { } problem ? throw new CommandException($"--led {name}: {problem}", 1) : led;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            throw new CommandException($"--led {name}: {e.Message} Let the agent's user write {folder}/trigger and {folder}/brightness, "
                + "or leave out --led.", 1);
        }
    }

    /// <summary>Turns it on or off. Why that failed, as a sentence; null when it did not.</summary>
    internal string? Light(bool on)
    {
        try
        {
            File.WriteAllText(Path.Combine(_folder, "brightness"), on ? _brightest : "0");
            return null;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            return e.Message;
        }
    }
}
