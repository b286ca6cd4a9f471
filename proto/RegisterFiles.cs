using Cardassay.Registers;

namespace Cardassay.Wire;

/// <summary>Register files of a card as messages.</summary>
public static class RegisterFiles
{
    /// <summary>As messages, by name. A file that does not exist is not listed.</summary>
    public static IEnumerable<V1.RegisterFile> ToMessages(IReadOnlyDictionary<string, Reading<string>> files)
    {
        foreach ((string name, Reading<string> reading) in files.OrderBy(f => f.Key, StringComparer.Ordinal))
        {
            switch (reading.State)
            {
                case ReadingState.Known:
                    yield return new V1.RegisterFile { Name = name, Text = reading.Value! };
                    break;
                case ReadingState.Unreadable:
                    yield return new V1.RegisterFile { Name = name, Unreadable = reading.Reason ?? "" };
                    break;
                default:
                    break;
            }
        }
    }

    /// <summary>From messages; of two of one name the last counts.</summary>
    public static IReadOnlyDictionary<string, Reading<string>> FromMessages(IEnumerable<V1.RegisterFile> messages)
    {
        var files = new SortedDictionary<string, Reading<string>>(StringComparer.Ordinal);
        foreach (V1.RegisterFile file in messages)
        {
            files[file.Name] = file.ContentCase switch
            {
                V1.RegisterFile.ContentOneofCase.Text => Reading<string>.Known(file.Text),
                V1.RegisterFile.ContentOneofCase.Unreadable => Reading<string>.Unreadable(file.Unreadable),
                _ => Reading<string>.Absent(),
            };
        }

        return files;
    }
}
