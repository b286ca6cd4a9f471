using System.Globalization;
using System.Text;

namespace Cardassay.Service;

/// <summary>One setting of a configuration file.</summary>
/// <param name="Key">Its name, as written.</param>
/// <param name="Value">Its value, without white space around it; not empty.</param>
/// <param name="Line">Where it stands, from 1.</param>
public sealed record Setting(string Key, string Value, int Line);

/// <summary>
/// A configuration file: one `key = value` per line, empty lines, and comment lines that begin with `#`. Keys and values are taken as
/// they are; what they mean is the command line's business, so that a setting and an option can never differ.
/// </summary>
public static class ConfigurationFile
{
    /// <summary>No configuration is larger, bytes.</summary>
    public const int MostBytes = 64 * 1024;

    /// <summary>Reads a file.</summary>
    /// <exception cref="ConfigurationException">It cannot be read, or a line is no setting.</exception>
    public static IReadOnlyList<Setting> Read(string path)
    {
        byte[] bytes;
        try
        {
            using FileStream file = File.OpenRead(path);
            bytes = new byte[MostBytes + 1];
            int length = file.ReadAtLeast(bytes, bytes.Length, throwOnEndOfStream: false);
            Array.Resize(ref bytes, length);
        }
        catch (Exception e) when (e is FileNotFoundException or DirectoryNotFoundException)
        {
            throw new ConfigurationException($"There is no configuration file {path}; give another one with --config, or leave it out.", e);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new ConfigurationException($"The configuration file {path} cannot be read: {e.Message}", e);
        }

        if (bytes.Length > MostBytes)
        {
            throw new ConfigurationException(string.Create(
                CultureInfo.InvariantCulture, $"The configuration file {path} is larger than {MostBytes} bytes; is it the right file?"));
        }

        return Parse(path, bytes);
    }

    /// <summary>Reads the text of a file.</summary>
    /// <param name="path">Named in errors.</param>
    /// <param name="bytes">The text, UTF-8.</param>
    /// <exception cref="ConfigurationException">It is no text, or a line is no setting.</exception>
    public static IReadOnlyList<Setting> Parse(string path, ReadOnlySpan<byte> bytes)
    {
        string text;
        try
        {
            text = new UTF8Encoding(encoderShouldEmitUTF8Identifier: false, throwOnInvalidBytes: true).GetString(bytes).TrimStart('\uFEFF');
        }
        catch (DecoderFallbackException e)
        {
            throw new ConfigurationException($"The configuration file {path} is no UTF-8 text; save it as UTF-8.", e);
        }

        var settings = new List<Setting>();
        int number = 0;
        foreach (ReadOnlySpan<char> raw in text.AsSpan().EnumerateLines())
        {
            number++;
            ReadOnlySpan<char> line = raw.Trim();
            if (line.IsEmpty || line[0] == '#')
            {
                continue;
            }

            settings.Add(ParseLine(path, line.ToString(), number));
        }

        return settings;
    }

    private static Setting ParseLine(string path, string line, int number)
    {
        string place = string.Create(CultureInfo.InvariantCulture, $"{path}, line {number}");
        if (line.Any(char.IsControl))
        {
            throw new ConfigurationException($"{place}: the line has a control character; write it anew.");
        }

        int equals = line.IndexOf('=', StringComparison.Ordinal);
        string key = (equals < 0 ? line : line[..equals]).Trim();
        string value = equals < 0 ? "" : line[(equals + 1)..].Trim();
        if (key.Length == 0 || equals < 0)
        {
            throw new ConfigurationException($"{place}: \"{line}\" is not \"key = value\"; a comment begins with #.");
        }

        return value.Length > 0
            ? new Setting(key, value, number)
            : throw new ConfigurationException($"{place}: {key} has no value; give one, or put # before the line.");
    }
}
